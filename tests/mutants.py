"""Small breakages of the product, each of which must turn a test red: who watches the tests.

    python tests/mutants.py [NAME...]

Copies the repository into a temporary folder, breaks one place of the copy, and runs the tests named for it there.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

ROOT = Path(__file__).parents[1]
COPIED = ("sweeper", "tests", "demo", "configs", "pyproject.toml", "README.md")
#: Many times what the slowest of them takes.
TIMEOUT_S = 120
#: What Python says of code that is no code: a test that fails of that has noticed nothing.
NO_CODE = ("SyntaxError", "IndentationError", "NameError", "UnboundLocalError", "ImportError", "ModuleNotFoundError")


@dataclass(frozen=True)
class Mutant:
    """A breakage. file: inside sweeper/. old: stands in it exactly once. tests: at least one of them must fail."""

    name: str
    file: str
    old: str
    new: str
    tests: tuple[str, ...]


def _mutant(name: str, file: str, old: str, new: str, *tests: str) -> Mutant:
    return Mutant(name, file, old, new, tuple(f"tests/{test}" for test in tests))


MUTANTS = (
    # What is heard.
    _mutant("any-host-is-served", "audition/server.py", "if len(host) != 1 or host[0] not in hosts or len(origin) > 1:",
            "if len(host) != 1 or len(origin) > 1:",
            "audition/test_server.py::test_another_host_name_is_refused_also_where_it_leads_here[evil.example]"),
    _mutant("any-origin-writes", "audition/server.py", 'return origin[0] == f"http://{host[0]}"', "return True",
            "audition/test_server.py::test_another_origin_neither_reads_nor_writes[null]"),
    _mutant("notes-of-any-revision-are-saved", "audition/notebook.py", 'if picks.revision != now["revision"]:',
            "if False:", "audition/test_notebook.py::test_of_many_that_save_at_once_one_wins_each_revision"),
    _mutant("exported-with-its-settings", "audition/manifest.py", 'and (private or "." not in key)', "",
            "audition/test_export.py::test_nothing_private_is_in_it"),
    _mutant("a-codecs-delay-left-in", "audition/codecs.py", "    left = max(0, delay)\n", "    left = 0\n",
            "audition/test_codecs.py::test_blocks_are_shifted_and_cut_wherever_they_end"),
    _mutant("blind-files-by-name", "audition/blind_files.py", "    chance.shuffle(hidden)\n", "",
            "audition/test_blind_files.py::test_the_key_says_which_is_which_and_the_same_seed_shuffles_alike"),
    _mutant("the-hidden-reference-is-picked", "records/picks.py", "return id.isdigit()", "return True",
            "records/test_picks.py::test_only_variants_are_picked_and_a_trial_that_ended_early_says_so"),
    _mutant("guessing-is-two-sided", "audition/chance.py", "range(right, of + 1))", "range(right + 1, of + 1))",
            "audition/test_chance.py::test_it_agrees_with_the_published_table[12]"),
    # The chain at work.
    _mutant("no-re-blocking", "render/link.py",
            "whole = self.queue.frames // self.block_frames * self.block_frames", "whole = self.queue.frames",
            "render/test_stream.py::test_streaming_equals_whole_files_to_the_bit[ZaMaximX2+ZamCompX2-1024]"),
    _mutant("no-reset-before-a-render", "render/stream.py",
            "    for stage in stages:\n        stage.reset()\n", "",
            "render/test_stream.py::test_a_second_render_is_the_first_again_to_the_bit"),
    _mutant("no-flush", "render/link.py", "while self.given < self.frames:", "while False:",
            "render/test_stream.py::test_short_mixes_keep_their_length_and_every_sample[1023]"),
    _mutant("last-block-not-padded", "render/link.py", "        if self.queue.frames:\n", "        if False:\n",
            "render/test_stream.py::test_short_mixes_keep_their_length_and_every_sample[479]"),
    _mutant("plugin-not-reset", "host/vst3.py", "        self._fetched = None\n        self._plugin.reset()\n",
            "        self._fetched = None\n",
            "render/test_stream.py::test_an_honest_delay_comes_out_where_it_went_in[delay_honest-stereo]"),
    _mutant("built-in-not-reset", "host/builtin.py", "        self._effect.reset()\n", "        return\n",
            "render/test_stream.py::test_a_mixed_chain_is_aligned_to_the_sample"),
    _mutant("sides-out-of-step", "host/stage.py", "self._waiting[side].add(part)",
            "self._waiting[side].add(part[:, -min(p.shape[1] for p in sides.values()) :])",
            "render/test_stream.py::test_delays_that_leave_only_one_side_stay_in_step_with_the_other"),
    _mutant("no-check-for-nan", "render/link.py",
            "        if np.isfinite(out.sum()) or np.isfinite(out).all():\n            return\n", "        return\n",
            "render/test_stream.py::test_a_sample_that_is_no_number_names_stage_channel_and_time[nan_process-nan]"),
    _mutant("silence-not-told", "render/link.py",
            "for finding in behaviour.finish(self.watch))", "for finding in ())",
            "render/test_stream.py::test_a_stage_that_gives_silence_for_sound_is_told"),
    _mutant("decode-swaps-the-side", "host/routing.py",
            'sides["mid"] + sides["side"], sides["mid"] - sides["side"]',
            'sides["mid"] - sides["side"], sides["mid"] + sides["side"]', "host/test_routing.py"),
    _mutant("side-not-halved", "host/routing.py", "(left - right) * half", "(left - right)", "host/test_routing.py"),
    _mutant("second-output-ignored", "host/routing.py", "(block[0:1] + block[1:2]) * np.float32(0.5)",
            "block[0:1] * np.float32(1.0)", "host/test_routing.py"),
    _mutant("no-output-trim", "host/stage.py",
            'self._leveled(made, "output trim", self._came_out[instance.side])', "made",
            "host/test_stage.py::test_trims_stand_before_and_after_the_plugin"),
    _mutant("input-trim-applied-after", "host/stage.py",
            'heard = self._leveled(sides[instance.side], "input trim", self._came_in)\n'
            "            made = instance.process(heard)\n",
            'made = self._leveled(instance.process(sides[instance.side]), "input trim", self._came_in)\n',
            "host/test_stage.py::test_trims_stand_before_and_after_the_plugin"),
    _mutant("trims-of-the-file-swapped", "host/stage.py",
            '"input trim": setup.input_trim_db, "output trim": setup.output_trim_db',
            '"input trim": setup.output_trim_db, "output trim": setup.input_trim_db',
            "host/test_stage.py::test_trims_stand_before_and_after_the_plugin"),
    # Explorations.
    _mutant("one-chance-for-all-batches", "plan/explorer.py", "seed = _seed(*self._drawn_from, batch)",
            "seed = None",
            "plan/test_explorer.py::test_the_same_seed_asks_the_same_and_another_seed_or_mix_something_else"),
    _mutant("limits-not-told", "plan/explorer.py", "yield values, (*one.violations, far if one.is_bad else 0.0)",
            "yield values, (0.0,)",
            "plan/test_explorer.py::test_what_must_be_is_kept_to"),
    _mutant("settings-of-others-asked", "plan/space.py",
            "if stage.name in self._swaps and stage.name not in off:", "if stage.name in self._swaps:",
            "plan/test_space.py"),
    _mutant("not-asked-again", "plan/mix_exploration.py",
            "self.has_strayed = [self._explorer.ask() for _ in self._open] != [entry.point for entry in self._open]",
            "self.has_strayed = True",
            "plan/test_exploration.py::test_gone_on_with_it_asks_for_what_it_would_have_asked_for"),
    _mutant("its-own-batch-teaches", "plan/mix_exploration.py", "if entry.batch < number and told[id].landed",
            "if entry.batch <= number and (id not in told or told[id].landed)",
            "plan/test_exploration.py::test_the_nearest_of_earlier_batches_teaches"),
    _mutant("known-faults-forgotten", "render/executor.py", "for mix, stage, failed in self.faults.known():",
            "for mix, stage, failed in ():",
            "render/test_executor.py::test_a_fault_that_an_earlier_batch_met_twice_is_not_tried_in_the_next"),
    _mutant("highest-told-as-lowest", "table/telling.py", "if value is None or not highest else -value",
            "if value is None or highest else -value",
            "table/test_telling.py::test_what_is_preferred_is_the_better_the_lower"),
    _mutant("exploration-ends-never", "plan/mix_exploration.py",
            "min(stale, count - self.counted_from) >= stop_after", "stale < 0",
            "plan/test_exploration.py::test_it_ends_at_the_end_of_a_batch_after_so_many_that_were_no_better"),
    _mutant("tries-taken-for-renders", "table/tried.py", 'return Row(row.id, row.mix, "tried", "", settings,',
            'return Row(row.id, row.mix, "tried", "", settings, row.measurements,',
            "table/test_tried.py::test_no_number_of_a_try_stands_where_a_renders_would"),
    _mutant("best-tries-by-age", "table/tried.py", "[row for row in ranked_rows(chain, rows) if row.done]",
            "[row for row in rows if row.done]",
            "table/test_tried.py::test_the_best_are_chosen_by_limits_targets_and_preference"),
    _mutant("leads-measured", "render/listening.py", "meter.advance(panel, self._last[:, span])",
            "meter.advance(panel, self._last)",
            "render/test_listening.py::test_a_gain_is_told_as_the_whole_and_as_its_excerpts_cut_out"),
    _mutant("missed-tries-teach", "render/listened.py",
            "if not solved or not all(one.ending.teaches for one in solved):", "if not solved:",
            "render/test_listened.py::test_a_try_that_missed_teaches_nothing"),
    _mutant("tries-forgotten", "table/tried.py", "        file = folder.path / _name(variant.id)\n",
            "        file = folder.path / variant.id\n",
            "table/test_tried.py::test_what_was_tried_is_found_again_and_what_is_damaged_is_named"),
    # Blend, rides, delays, tails, buses.
    _mutant("dry-not-held-back", "host/stage.py", "self._dry.take(wet.shape[1])", "block[:, : wet.shape[1]]",
            "render/test_rides_and_blend.py::test_blend_holds_against_dry_that_waits_for_the_plugins_delay"),
    _mutant("ride-late-by-a-block", "host/curve.py",
            "away = start - end if end <= start else first - stop",
            "away = start - first if end <= start else first - stop",
            "host/test_curve.py"),
    _mutant("ride-does-not-go-home", "render/stream.py", "    for stage in stages:\n        stage.home()\n", "",
            "render/test_recording.py"),
    _mutant("ride-runs-in-large-blocks", "host/stage.py",
            "ridden_block_frames(format.rate_hz, block_frames) if of_controls else block_frames", "block_frames",
            "render/test_rides_and_blend.py::test_a_ride_of_a_plugins_gain_is_on_time_and_never_steps_further_than_"
            "its_ramp_does_in_a_block"),
    _mutant("said-delay-not-dropped", "host/instance.py", "max(0, -off), max(0, off)", "max(0, -off), 0",
            "render/test_rides_and_blend.py::test_a_delay_said_by_the_chain_file_is_taken_out_and_nothing_is_lost"
            "[441-64-1000]"),
    _mutant("said-delay-loses-the-beginning", "host/instance.py", "max(0, -off), max(0, off)", "0, max(0, off)",
            "render/test_rides_and_blend.py::test_a_delay_said_by_the_chain_file_is_taken_out_and_nothing_is_lost"
            "[64-441-1000]"),
    _mutant("polarity-left-alone", "host/stage.py", "made = -made if self.setup.inverted else made", "made = made",
            "render/test_rides_and_blend.py::test_polarity_is_turned_round_before_the_blend"),
    _mutant("tail-cut", "render/stream.py", "        frames += runs.tail_frames\n", "",
            "render/test_rides_and_blend.py::test_a_tail_makes_the_sound_longer_for_what_rings_on"),
    _mutant("bus-without-its-dry", "render/buses.py", "out = self._dry.take(frames)",
            "out = 0 * self._dry.take(frames)",
            "render/test_rides_and_blend.py::test_the_output_stages_come_after_the_buses"),
    _mutant("rides-not-in-the-key", "plan/tree.py", "for ride in setup.rides]", "for ride in ()]", "plan/test_tree.py"),
    _mutant("blend-not-in-the-key", "plan/tree.py", "setup.blend if setup.blend != 1 else None", "None",
            "plan/test_tree.py"),
    _mutant("what-a-stage-does-at-first-looked-at", "render/inside.py", "LEAD_S = 1.0", "LEAD_S = 0.0",
            "render/test_inside.py::test_what_a_stage_does_until_it_is_at_rest_is_not_laid_to_the_music"),
    _mutant("rides-go-on-while-looking", "host/stage.py", "self.setup = replace(ridden, rides=())",
            "self.setup = replace(ridden)", "render/test_looking.py"),
    _mutant("a-lost-harmonic-is-silence", "quantities/measurements.py", "return LOST_DB if value is None and",
            "return None if value is None and", "render/test_looking.py"),
    _mutant("a-reach-goes-by-the-last-look", "render/task.py", "self._looked(job.looks_each_pass, meter.finish(panel))",
            "meter.finish(panel)", "render/test_looking.py"),
    _mutant("looks-start-where-the-store-does", "render/upstream.py",
            "self._job.look_start.covered if self._job.look_start else 0", "self._room.covered",
            "render/test_looking.py"),
    _mutant("what-is-not-heard-breaks-limits", "table/row.py", " or verdict.reason in NOT_HEARD", "",
            "whole/test_inside.py::test_limits_and_preferences_go_by_what_a_stage_does"),
    _mutant("the-best-looked-into-as-asked", "render/settled.py", "settings=tuple(map(dialled, record.settings)), ", "",
            "render/test_settled.py"),
    _mutant("a-drive-that-was-solved-forgotten", "render/settled.py", "input_trim_db=record.input_trim_db,", "",
            "render/test_settled.py"),
    _mutant("bus-not-in-the-key", "plan/tree.py", "buses.index(setup.bus)", "0", "plan/test_tree.py"),
    _mutant("bus-off-still-heard", "plan/setups.py", "replace(one.setup, bypass=True), axes=frozenset(), sound=None)",
            "one.setup, axes=frozenset(), sound=None)", "plan/test_setups.py"),
    _mutant("outside-taken-a-sample-late", "render/outside_tasks.py", "start = round(lies.offset_frames)",
            "start = round(lies.offset_frames) + 1", "render/test_outside_tasks.py"),
    _mutant("another-music-comes-back", "render/whereabouts.py", "LEAST_LIKE = 0.2", "LEAST_LIKE = 0.0",
            "render/test_outside_tasks.py"),
    _mutant("a-turned-channel-goes-untold", "render/outside_tasks.py", "elif any(lies.inverted):", "elif False:",
            "render/test_outside_tasks.py::test_one_channel_turned_over_is_told_and_not_taken_for_another_music"),
    _mutant("noise-tells-the-polarity", "render/whereabouts.py", "if lag.likeness >= LEAST_LIKE else None", "",
            "render/test_outside_tasks.py::test_a_channel_of_noise_says_nothing_of_the_polarity"),
    _mutant("swapped-narrow-mix-taken", "render/whereabouts.py", " or exchanged(out, back):", ":",
            "render/test_outside_tasks.py::test_left_and_right_of_a_narrow_mix_are_not_mistaken_either"),
    _mutant("another-clock-goes-unnoticed", "render/outside_tasks.py", "STEADY_FRAMES = 1.5",
            "STEADY_FRAMES = 1e9", "render/test_outside_tasks.py"),
    _mutant("no-turn-for-one-at-a-time", "host/holding.py", "    _TURN.take(alive)\n    return Holding()\n",
            "    return None\n", "host/test_holding.py"),
    _mutant("output-peaks-clip-while-dialling", "dial/matching.py", ", _dbfs(wet_peak) + ROOM_DB)", ")",
            "dial/test_matching.py"),
    _mutant("first-repeat-kept-not-the-worst", "render/repeats.py", "key=_unlike)", "key=lambda one: 0)",
            "render/test_trial_twice.py"),
    _mutant("spoilt-sound-laid-to-the-settings", "render/known_faults.py",
            " or (failed.cause is Cause.ERROR and failed.position)", "", "render/test_known_faults.py"),
    _mutant("faults-tried-for-ever", "render/known_faults.py", "ENOUGH = 2", "ENOUGH = 10**9",
            "render/test_known_faults.py"),
    _mutant("state-of-another-plugin-taken", "host/state_check.py", "if wanted.class_id != own.class_id:", "if False:",
            "host/test_state_check.py"),
    _mutant("bursts-not-noticed", "host/behaviour.py", "if at_s := bursts_s(levels):", "if at_s := ():",
            "render/test_trial.py"),
    _mutant("chain-rewritten-unchecked", "chain/rewriting.py", "if _unmarked(found) != _unmarked(", "if False and (",
            "chain/test_rewriting.py"),
    _mutant("mono-plugin-let-onto-stereo", "host/instance.py", "if self.heard > self.takes:", "if False:",
            "host/test_stage.py::test_a_mono_plugin_on_a_stereo_mix_names_the_ways_out"),
    # Settings.
    _mutant("record-what-was-asked", "host/settings.py",
            "text, control.raw(), control.text_at(control.raw()))\n        for control, _, text in positions",
            "text, raw, control.text_at(raw))\n        for control, raw, text in positions",
            "host/test_settings.py"),
    _mutant("stuck-settings-pass", "host/settings.py",
            "        if _strayed(control, raw):\n            raise", "        if False:\n            raise",
            "host/test_settings.py"),
    _mutant("plugins-own-word-ignored", "host/settings.py", "if abs(says - applied.raw) > STUCK and", "if False and",
            "host/test_stage.py::test_a_setting_that_the_plugin_refuses_fails_and_says_what_stands"),
    _mutant("out-of-range-is-the-end", "host/resolve.py",
            "positions[k], positions[last])\n    raise _out_of_range(control, value)\n",
            "positions[k], positions[last])\n    return 1.0\n",
            "host/test_resolve.py"),
    _mutant("any-unit-will-do", "host/resolve.py", "    if wanted is None:\n",
            "    if wanted is None:\n        return value.value\n",
            "host/test_resolve.py"),
    _mutant("off-is-on", "host/resolve.py", "return 1.0 if value.on else 0.0", "return 1.0", "host/test_resolve.py"),
    _mutant("reload-type-left-to-chance", "host/vst3.py",
            '        object.__setattr__(self._plugin, "_reload_type", persists)\n', "",
            "render/test_stream.py::test_a_plugin_that_no_reset_makes_young_again_renders_the_same_all_the_same"),
    _mutant("every-setting-probed-at-load", "host/vst3.py",
            'setattr(internals._PythonExternalPluginMixin, "__set_initial_parameter_values__", _ask_nothing)', "None",
            "host/test_stage.py::test_thousands_of_settings_load_in_seconds"),
    _mutant("state-file-not-loaded", "host/effect.py", "        plugin.load_state(state, alone)\n", "        pass\n",
            "host/test_stage.py::test_a_state_comes_back"),
    _mutant("first-of-two-names-taken", "host/settings.py", "if len(found) == 1:", "if found:",
            "host/test_settings.py"),
    _mutant("solver-believes-what-it-asked", "host/knob.py",
            "Dialled(self.name, self._side, Travel(raw, text)))\n        return self.now()\n",
            "Dialled(self.name, self._side, Travel(raw, text)))\n        return value\n",
            "host/test_stage.py::test_a_knob_says_where_it_stands_not_where_it_was_to_go"),
    _mutant("both-sides-get-both-settings", "host/stage.py", 'if s.side in ("", instance.side) and s.name', "if s.name",
            "host/test_stage.py::test_a_setting_for_one_side_leaves_the_other_alone"),
    _mutant("last-of-two-plugins-taken", "host/catalogue.py",
            "if first is None or (first.fault and not plugin.fault):", "if True:",
            "host/test_catalogue.py"),
    _mutant("solved-setting-recorded-as-dialled", "host/stage.py",
            "self._applied[(applied.side, applied.name)] = applied",
            "self._applied.setdefault((applied.side, applied.name), applied)", "render/test_recording.py"),
    _mutant("untouched-settings-not-recorded", "render/recording.py",
            "standing=tuple(left for instance in stage.instances for left in _left_alone(stage, instance)),",
            "standing=(),", "render/test_recording.py"),
    # Variants, jobs, rows.
    _mutant("varied-setting-added-not-replaced", "host/setup.py", "settings=(*kept, setting)",
            "settings=(*self.settings, setting)",
            "plan/test_variants.py"),
    _mutant("settings-of-the-first-variant", "render/jobs.py", "stages=variant.stages", "stages=found[0].stages",
            "render/test_jobs.py"),
    _mutant("sections-at-the-first-mixs-rate", "render/jobs.py", "mixes[variant.mix].file.format.rate_hz",
            "mixes[0].file.format.rate_hz", "render/test_jobs.py"),
    _mutant("sections-shifted", "plan/sections.py", "round(s.start_s * rate_hz)", "round(s.start_s * rate_hz) + 1",
            "plan/test_variants.py"),
    _mutant("failure-swallowed", "table/rows.py", '"failed", cause_of(failed)', '"done", ""',
            "table/test_rows.py"),
    _mutant("failure-is-success-to-the-shell", "cli/run.py", "        return 4\n", "        return 0\n",
            "whole/test_faults.py::test_a_fault_while_rendering_is_one_failed_row[Probe Nan Process-gave nan "
            "instead of a sample]"),
    _mutant("nothing-inside-the-limits-is-success", "cli/run.py", "finished.rows) else 1", "finished.rows) else 0",
            "cli/test_answers.py::test_a_run_in_which_nothing_is_inside_the_limits_ends_with_1"),
    _mutant("rows-as-workers-finish", "table/rows.py",
            "[rows[variant.id] for variant in found if variant.id in rows]", "list(rows.values())",
            "whole/test_sweep.py::test_rows_stand_in_the_files_order_whoever_is_done_first"),
    _mutant("columns-as-rows-come", "table/frame.py", "for id in sorted(split)", "for id in split",
            "table/test_frame.py"),
    _mutant("matched-with-other-mixes", "table/rows.py", "if row.mix == mix.written and row.done", "if row.done",
            "table/test_rows.py"),
    _mutant("matched-over-the-whole", "table/rows.py",
            "measurements.sections.get(match_name(chain.match_over), measurements)", "measurements",
            "table/test_rows.py"),
    _mutant("mix-copied-as-it-is", "table/copies.py", '-matched.wav", gain, tag)', '-matched.wav", 0.0, tag)',
            "table/test_copies.py"),
    _mutant("states-not-kept-with-the-run", "table/outcome.py",
            'self.folder.keep(state, "states")', "pass", "table/test_outcome.py"),
    _mutant("old-copies-left-lying", "table/copies.py", "    for copy in found:\n        removed(copy.target)\n", "",
            "table/test_copies.py"),
    _mutant("the-sound-goes-before-the-note", "table/copies.py",
            "            write_whole(place / NOT_KEPT_NAME, NOT_KEPT)\n",
            "", "table/test_copies.py"),
    _mutant("near-by-sound-alone", "shortlist/likeness.py", "is_near(self.settings) and (", "(",
            "shortlist/test_choice.py"),
    _mutant("front-bunched-up", "shortlist/picking.py", "return max(front", "return min(front",
            "shortlist/test_picking.py"),
    _mutant("equals-dominate", "verdict/front.py", "one != other and all", "all", "verdict/test_front.py"),
    _mutant("null-at-delivery-level", "render/matched_null.py", "ours * factors[0], theirs * factors[1]",
            "ours, theirs", "render/test_matched_null.py"),
    _mutant("all-kept", "shortlist/keeping.py", "replace(row, kept=fills, why=why)", "replace(row, kept=True, why=why)",
            "shortlist/test_keeping.py"),
    # The tree, the store, the executor.
    _mutant("state-not-in-the-key", "plan/tree.py", 'facts.states[str(setup.state)] if setup.state else ""', '""',
            "plan/test_tree.py"),
    _mutant("trims-not-in-the-key", "plan/tree.py", "[setup.input_trim_db, setup.output_trim_db],", "[],",
            "plan/test_tree.py"),
    _mutant("bypassed-stages-in-the-key", "host/setup.py",
            "        if setup.bypass:\n            continue\n", "",
            "plan/test_tree.py"),
    _mutant("solved-stages-shared", "plan/tree.py", "if numbers[-1] >= first_turned:", "if numbers[-1] > first_turned:",
            "plan/test_tree.py"),
    _mutant("everything-stored", "plan/storing.py", "if uses > 1 and since_s[key] > WORTH * store_s", "if uses > 0",
            "plan/test_storing.py"),
    _mutant("store-limit-ignored", "plan/storing.py", "if peak_bytes <= limit_bytes or not used_again:", "if True:",
            "plan/test_storing.py"),
    _mutant("wants-not-waited-for", "plan/schedule.py", "{need for need in before if need in needs}", "set()",
            "plan/test_schedule.py"),
    _mutant("pupils-do-not-wait", "plan/work.py", "        taught = (teacher,) if teacher in tree.paths else ()\n",
            "        taught = ()\n", "plan/test_work.py"),
    _mutant("mixes-teach-one-another", "plan/teachers.py", "    return (variant.mix, tuple((variant",
            "    return (0, tuple((variant",
            "plan/test_teachers.py"),
    _mutant("damage-goes-unmended", "render/executor.py", "if not isinstance(failed.error, StoreDamaged) or",
            "if True or",
            "render/test_executor.py"),
    _mutant("failed-step-fails-nobody", "render/executor.py", "elif key in self.plan.tree.paths[task].steps:",
            "elif False:",
            "render/test_executor.py"),
    _mutant("teachers-teach-nothing", "render/executor.py", "            self.taught[id] = outcome.value.solved\n",
            "            pass\n", "render/test_executor.py"),
    _mutant("full-disk-is-a-row", "render/executor.py",
            "        if isinstance(outcome, Failed) and isinstance(outcome.error, RunFolderError):\n"
            "            raise outcome.error\n",
            "", "render/test_executor.py"),
    _mutant("samples-of-the-store-trusted", "render/store/entry.py",
            "if digest.hexdigest() != description.sha256:", "if False:",
            "render/store/test_entry.py"),
    _mutant("leases-ignored", "render/store/store.py",
            "free = {each: found[each].bytes for each in found if each not in leased}",
            "free = {each: found[each].bytes for each in found}",
            "render/store/test_store.py"),
    _mutant("latest-used-goes-first", "render/store/store.py", "sorted(free, key=lambda each: (uses[each], each))",
            "sorted(free, key=lambda each: (-uses[each], each))", "render/store/test_store.py"),
    _mutant("changes-since-are-let-pass", "table/begun.py", "    if changed:\n", "    if False:\n",
            "whole/test_resume.py::test_another_mix_in_its_place_is_refused_by_name"),
    _mutant("finished-are-rendered-again", "table/begun.py", "            done[variant.id] =", "            _ =",
            "whole/test_resume.py::test_a_failed_variant_is_tried_again"),
    _mutant("anybody-may-open-a-run", "render/folder.py", "            self._lock.acquire()\n", "",
            "whole/test_resume.py::test_two_processes_on_one_run_folder_the_second_is_told"),
    _mutant("a-ceiling-never-touched-is-hunted", "plan/reach.py", "_landed(search) or _not_engaged(search)",
            "_landed(search)",
            "plan/test_reach.py", "plan/test_joint.py"),
    _mutant("what-stands-behind-is-feared", "plan/foreseen.py", "            return 0.0\n", "            return None\n",
            "plan/test_foreseen.py"),
    _mutant("gains-that-cancel-tell-slopes", "plan/joint_slopes.py", "LEAST_LEFT = 0.5", "LEAST_LEFT = 0.0",
            "plan/test_joint_three.py", "plan/test_joint_slopes.py"),
    _mutant("excerpts-have-the-last-word", "render/foresight.py", "MOST_FORESEEN = (6, 3)", "MOST_FORESEEN = (6, 99)",
            "render/test_foresight.py::"
            "test_of_several_settings_the_later_full_renders_stand_where_full_renders_say"),
    _mutant("creeping-goes-on", "plan/joint.py", "if len(joint.passes) >= MOST_PASSES or _creeps(joint):",
            "if len(joint.passes) >= MOST_PASSES:",
            "plan/test_joint_three.py::test_what_is_out_of_reach_together_is_given_up_before_all_passes_are_made"),
    _mutant("answers-to-answers-to-the-end", "plan/joint.py", "NEARLY = 6.0", "NEARLY = 0.0",
            "plan/test_joint_step.py"),
    _mutant("none-is-given-up", "plan/conceded.py", "if len(missed) < 2 or", "if len(missed) < 9 or",
            "plan/test_conceded.py", "render/test_solve.py"),
    _mutant("idle-ceilings-count-as-missed", "render/foresight.py",
            "if ending is not Ending.NOT_ENGAGED]", "if True]", "render/test_foresight.py"),
    _mutant("what-is-inside-is-not-foretold", "render/rehearsal.py",
            "return self._shortly.looked(self.job.looks_each_pass, found)", "return found",
            "render/test_rehearsal.py::test_what_a_stage_does_is_foretold_by_the_loudest_seconds"),
    _mutant("whose-limit-is-not-told", "cli/show_shortlist.py",
            """words.append(f"{limit} for {' and '.join(own)}" if others and own else limit)""", "words.append(limit)",
            "cli/test_show_shortlist.py::test_a_limit_of_some_mixes_says_whose_it_is"),
    _mutant("the-third-is-left-where-it-was", "plan/joint.py",
            "follow[o] * (ats[o] - p.at[o]) for o in _others(joint, number)",
            "follow[o] * (ats[o] - p.at[o]) for o in _others(joint, number)[:1]", "plan/test_joint_three.py"),
    _mutant("crest-rises-with-drive", "render/searches.py", "-target.sign if _falls(order) else target.sign",
            "target.sign",
            "render/test_solve.py"),
    _mutant("misled-pupils-stay-lost", "render/solve.py",
            "if found[0].missed and foresight is None and any(order.taught for order in orders):",
            "if False:", "render/test_solve.py"),
    _mutant("trims-keyed-by-their-text", "plan/tree.py", "if made is None and isinstance(value, Number):", "if False:",
            "plan/test_tree.py"),
    _mutant("last-damage-goes-unmended", "render/executor.py", "while self._under_way or not self._schedule.is_empty:",
            "while not self._schedule.is_empty:", "render/test_executor.py"),
    _mutant("states-may-change-meanwhile", "render/room.py",
            "if known is not None and not setup.bypass and changed(known):",
            "if False:", "render/test_room.py"),
    _mutant("pupils-start-at-home", "render/searches.py", "home if taught is None else taught.at", "home",
            "render/test_solve.py"),
    # Recall.
    _mutant("any-music-will-do", "recall/mix.py", "audio_sha256 !=", "audio_sha256 is", "recall/test_again.py",
            "whole/test_recall.py"),
    _mutant("any-state-will-do", "recall/setups.py", "file_hash(path) == record.state_sha256", "True",
            "recall/test_setups.py"),
    _mutant("marks-of-stretches-alone", "audio/marks.py", '"<f4").data, self._sums[channel])', '"<f4").data)',
            "audio/test_marks.py"),
    _mutant("stages-by-their-length", "recall/stagewise.py", "if one == other:", "if one.frames == other.frames:",
            "recall/test_stagewise.py"),
    _mutant("chance-excuses-more", "recall/verdict.py", "floor.peak_dbfs + MARGIN_DB",
            "floor.peak_dbfs + 2 * MARGIN_DB", "recall/test_verdict.py"),
    _mutant("archive-not-looked-at", "recall/archive.py", "if file_hash(run / name) != listed[name]", "if not name",
            "recall/test_archive.py::test_what_comes_out_altered_is_not_kept"),
    _mutant("mixes-where-they-were", "recall/mix.py", "if inside and (run", "if not run and inside and (run",
            "recall/test_archive.py::test_unpacked_elsewhere_it_comes_out_again_with_everything_else_gone"),
    _mutant("revision-overshoots", "recall/change.py", "return now + self.by if", "return now + 2 * self.by if",
            "recall/test_change.py"),
    # Reach.
    _mutant("another-render-than-the-reported", "render/solve.py", "if best is not found[-1] or kept !=",
            "if False and kept !=",
            "render/test_solve.py"),
    _mutant("tolerance-ignored", "render/searches.py", "Goal(goal.text, goal.within,", "Goal(goal.text, 0.5,",
            "render/test_solve.py"),
    _mutant("tolerance-not-handed-on", "render/jobs.py", "1, reach.within,", "1, 0.1,", "render/test_jobs.py"),
    _mutant("any-bracket", "plan/reach.py",
            "to the most\n    over = next((n for n, p in enumerate(tried) if worst(p) > 0), None)",
            "to the most\n    over = next((n for n in range(len(tried))[::-1] if worst(tried[n]) > 0), None)",
            "plan/test_reach.py"),
    _mutant("stop-at-not-handed-on", "render/jobs.py", "*(_stop(condition) for condition in reach.stop_at)", "",
            "render/test_jobs.py"),
    _mutant("floor-taken-for-ceiling", "render/jobs.py", 'sign = 1 if condition.relation == "<="',
            'sign = 1 if condition.relation == ">="', "render/test_jobs.py"),
    _mutant("no-way-back-by-the-bound", "plan/reach_strides.py", "    if worst(outermost) > 0:\n        return",
            "    if worst(outermost) > math.inf:\n        return", "plan/test_reach.py"),
    _mutant("ceiling-does-nothing-to-a-floor", "plan/joint_slopes.py", "return by_gain - own if held else 0.0",
            "return 0.0", "plan/test_joint_slopes.py"),
    _mutant("broken-floors-are-all-alike", "plan/joint.py", "    if broken > 0:\n        return broken\n", "",
            "plan/test_joint.py"),
    _mutant("what-excerpts-told-is-forgotten", "render/foresight.py",
            "known = (*self._set_right(full), *full.passes)", "known = full.passes", "render/test_foresight.py"),
    _mutant("first-rendered-where-nothing-was-tried", "render/foresight.py",
            "        if not self.can_tell or not before:\n", "        if True:\n", "render/test_foresight.py"),
    _mutant("alternates-are-solved-anew", "render/solve.py", "    if any(order.as_taught for order in orders):",
            "    if False:",
            "render/test_solve.py"),
    _mutant("alternates-learn-from-their-own", "plan/teachers.py", "        if variant.main is not None:",
            "        if False:",
            "plan/test_teachers.py"),
    _mutant("the-loudest-mix-is-lowered-too", "plan/album.py", "else max(known) - one", "else min(known) - one",
            "plan/test_album.py"),
    _mutant("a-mix-with-a-goal-of-its-own-is-related", "plan/album.py",
            "    return mix.settings_from is None and not any(", "    return mix.settings_from is None or any(",
            "plan/test_album.py"),
    _mutant("every-mix-lands-on-the-common-goal", "render/jobs.py", "reach_orders(chains[variant.mix], ",
            "reach_orders(chain, ", "render/test_jobs.py"),
    _mutant("every-mix-has-the-common-settings", "chain/own_chain.py", "inserts=_set(chain.inserts, given.settings),",
            "inserts=chain.inserts,", "chain/test_own_chain.py"),
    _mutant("a-mixs-own-limit-stands-beside-the-common-one", "chain/own_chain.py",
            "(instead.get(one.bounds, one) for one in limits)", "limits", "chain/test_own_chain.py"),
    _mutant("a-top-is-out-of-reach", "render/solve.py", "return Ending.FARTHEST, why", "return ended",
            "render/test_solve.py"),
    _mutant("floor-may-be-passed", "plan/reach.py", "excess > (0.0 if g", "excess > (9.0 if g", "plan/test_reach.py"),
    # Verdict.
    _mutant("limits-inverted", "verdict/limits.py", 'limit.relation == "<="', 'limit.relation != "<="',
            "verdict/test_limits.py"),
    _mutant("match-gain-inverted", "verdict/level.py", "else level - f.loudness_lufs", "else f.loudness_lufs - level",
            "verdict/test_level.py"),
    _mutant("matched-copies-clip", "verdict/level.py", "    level += min(0.0, room)\n", "", "verdict/test_level.py"),
    _mutant("ranked-upside-down", "verdict/rank.py", "-value if preference.highest else value",
            "value if preference.highest else -value", "verdict/test_rank.py"),
    _mutant("broken-limits-ranked", "verdict/rank.py", "(not c.done, not c.fits, front", "(not c.done, front",
            "verdict/test_rank.py"),
    # Meters.
    _mutant("no-absolute-gate", "meter/gating.py", "audible = powers[powers > ABSOLUTE_GATE_POWER]",
            "audible = powers[powers > 0.0]", "meter/test_gating.py"),
    _mutant("no-relative-gate", "meter/gating.py", "kept = audible[audible > INTEGRATED_GATE * audible.mean()]",
            "kept = audible", "meter/test_gating.py"),
    _mutant("range-up-to-90-percent", "meter/gating.py", "RANGE_LOW, RANGE_HIGH = 10, 95",
            "RANGE_LOW, RANGE_HIGH = 10, 90", "meter/test_gating.py"),
    _mutant("momentary-every-100-ms", "meter/loudness.py", "_loudest(momentary, NO_MOMENTARY)",
            "_loudest(momentary[::HOP], NO_MOMENTARY)",
            "standards/test_ebu_tech3341.py::test_case_13_momentary_maximum"),
    _mutant("wrong-k-filter-at-44100", "meter/k_weighting.py", "-1.66372267148479", "-1.66373267148479",
            "meter/test_k_weighting.py"),
    _mutant("true-peak-stops-before-the-end", "meter/true_peak.py", "peak_level(advance(state, silence).best)",
            "peak_level(state.best)", "meter/test_true_peak.py::test_a_peak_in_the_last_samples_is_found"),
    _mutant("true-peak-skips-too-much", "meter/true_peak.py", "inside + MOST_CURVATURE * bend_around",
            "inside + 0.5 * MOST_CURVATURE * bend_around",
            "meter/test_true_peak.py::test_the_worst_samples_there_are_do_not_slip_through"),
    _mutant("sections-forget-where-they-are", "meter/panel.py", "_advance_section(section, panel.frames, chunk)",
            "_advance_section(section, 0, chunk)",
            "meter/test_panel.py::test_a_section_is_measured_as_if_it_were_a_file"),
    _mutant("full-scale-is-no-over", "meter/levels.py", "np.count_nonzero(np.abs(block) >= full_scale)",
            "np.count_nonzero(np.abs(block) > full_scale)", "meter/test_levels.py"),
    _mutant("an-over-cut-in-two-counts-twice", "meter/overs.py", "runs -= int(state.open[channel] > 0)", "runs -= 0",
            "meter/test_passages.py"),
    _mutant("overs-at-both-ends-of-a-block-are-one", "meter/overs.py", "state.longest, np.zeros_like",
            "state.longest, np.ones_like", "meter/test_passages.py"),
    _mutant("psr-of-samples-only", "meter/psr.py", "np.maximum.at(known, steps + AROUND_S * STEPS_PER_S, found)",
            "np.maximum.at(known, steps + AROUND_S * STEPS_PER_S, 0.0)", "meter/test_psr.py"),
    _mutant("psr-counts-what-is-under-the-gate", "meter/psr.py", "(powers >= windows.LEAST_POWER) & (numbers >= 0)",
            "(powers > 0.0) & (numbers >= 0)", "meter/test_psr.py"),
    _mutant("psr-counts-windows-that-end-in-silence", "meter/psr.py", " & (numbers < whole), powers", ", powers",
            "meter/test_psr.py"),
    _mutant("psr-skips-too-much", "meter/between.py", "inside + MOST_CURVATURE * bend_around",
            "inside + 0.3 * MOST_CURVATURE * bend_around", "meter/test_psr.py", "meter/test_between.py"),
    _mutant("loud-crest-is-the-mean-of-windows", "meter/loud_crest.py", "10.0 ** np.median(", "10.0 ** np.mean(",
            "meter/test_passages.py"),
    _mutant("loud-crest-of-quiet-windows-too", "meter/loud_crest.py", "NEAR_LU = 3.0", "NEAR_LU = 30.0",
            "meter/test_passages.py"),
    _mutant("a-window-of-14-steps", "meter/windows.py", "part if found is None else join(found, part), left",
            "part, left", "meter/test_passages.py"),
    _mutant("worst-correlation-in-quiet", "meter/worst_correlation.py", "taken = heard.heard & (left",
            "taken = (left", "meter/test_passages.py"),
    _mutant("noise-floor-of-silence", "meter/noise_floor.py", "powers[powers >= SILENT_POWER]", "powers",
            "meter/test_passages.py", "standards/test_edge_cases.py"),
    _mutant("dc-of-the-better-channel", "meter/dc.py", "np.abs(seen.totals).max()", "np.abs(seen.totals).min()",
            "meter/test_passages.py"),
    _mutant("cells-a-frame-late", "meter/cells.py", "(2 * count * rate_hz + CELLS_PER_S) //",
            "(2 * count * rate_hz + 3 * CELLS_PER_S) //", "meter/test_passages.py"),
    _mutant("thirds-count-overlaps-twice", "meter/thirds.py", "        at += 2 * step\n", "        at += step\n",
            "meter/test_thirds.py"),
    _mutant("tilt-an-octave", "meter/tilt.py", "float(steps @ heights / (steps @ steps))",
            "float(3.0 * (steps @ heights) / (steps @ steps))", "meter/test_tilt.py"),
    _mutant("a-run-from-before-a-measurement-is-refused", "quantities/measurements.py",
            "return self.values.get(key) if key in BY_KEY else self.values[key]", "return self.values[key]",
            "quantities/test_measurements.py", "table/test_written.py"),
    _mutant("a-limiter-is-response", "meter/identified.py", "if turn >= len(STEPS)", "if turn > 99",
            "meter/test_identified.py::test_a_clipper_leaves_what_the_quiet_copy_says_and_more_the_harder_it_is_driven"),
    _mutant("half-of-the-time-is-0-db", "meter/identified.py", "REFERENCE_PERCENT = 95.0", "REFERENCE_PERCENT = 50.0",
            "meter/test_identified.py::test_a_compressor_attenuates_as_the_quiet_copy_says"),
    _mutant("what-a-response-lacks-is-residue", "meter/identified.py",
            "return max(_power_through(of, missed), _power_through(of, ends))",
            "return _power_through(of, missed)",
            "meter/test_identified.py::test_a_reverberation_longer_than_the_response_is_lost_in_the_floor"),
    _mutant("channels-answer-for-themselves", "meter/response.py",
            "own += heard.T.conj()[:, :, None] * heard.T[:, None, :]",
            "own += np.eye(channels) * heard.T.conj()[:, :, None] * heard.T[:, None, :]",
            "meter/test_response.py::test_turns_find_a_response_to_the_tap"),
    # Files.
    _mutant("loudness-in-the-file-cut-off", "audio/broadcast.py",
            "int((Decimal(repr(float(level))) * 100).to_integral_value(ROUND_HALF_UP))", "int(level * 100)",
            "audio/test_broadcast.py"),
    _mutant("files-overwritten", "audio/placing.py", "        path.hardlink_to(part)\n",
            "        part.replace(path)\n        return\n", "audio/test_wav.py", "audio/test_placing.py"),
    _mutant("taken-names-not-seen", "audio/placing.py", "if os.path.lexists(path):", "if False:", "audio/test_wav.py"),
    _mutant("part-files-left", "audio/wav.py", "            self._part.unlink(missing_ok=True)\n", "            pass\n",
            "audio/test_wav.py::test_without_commit_nothing_appears"),
    _mutant("copies-the-other-way", "audio/gain_copy.py", "np.float32(gain(gain_db))", "np.float32(gain(-gain_db))",
            "audio/test_gain_copy.py"),
    _mutant("renders-clipped-in-the-file", "audio/wav.py", 'np.ascontiguousarray(block.T, dtype="<f4")',
            'np.ascontiguousarray(np.clip(block.T, -1, 1), dtype="<f4")', "audio/test_wav.py"),
    _mutant("second-key-wins", "chain/shapes.py", "elif folded(name) in found:", "elif False:", "chain/test_faults.py"),
    # Processes.
    _mutant("hanging-workers-left-alone", "workers/place.py",
            "return self._progress.deadline_s if self._handed else None", "return None",
            "workers/test_pool.py::test_limits_do_not_run_while_nobody_watches_for_long[5.0-Failed]"),
    _mutant("an-end-with-0-is-done", "workers/place.py", "            return self._failed(cause, what, heard)\n",
            "            if exit_code == 0:\n                return self._over(Done(self._key(), None))\n"
            "            return self._failed(cause, what, heard)\n",
            "workers/test_place.py::test_a_failing_task_is_one_outcome_and_the_others_are_done[end_0]"),
    _mutant("children-outlive-their-parent", "workers/serving.py",
            "threading.Thread(target=_end_with_parent, args=(streams.life,), daemon=True).start()", "pass",
            "workers/test_serving.py::test_children_go_when_the_parent_is_killed"),
    _mutant("parent-loads-the-plugin-library", "plan/examine.py",
            "from sweeper.workers import Done, Failed, Pool, Task\n",
            "from sweeper.host.vst3 import Vst3Plugin  # noqa: F401\n"
            "from sweeper.workers import Done, Failed, Pool, Task\n",
            "whole/test_faults.py::test_the_parent_never_loads_the_plugin_library"),
    # What each stage contributes.
    _mutant("change-at-unequal-loudness", "table/contributions.py", "else after - before - gain_db",
            "else after - before", "table/test_contributions.py::test_a_worked_example"),
    _mutant("change-the-wrong-way", "table/contributions.py", "else other - one\n", "else one - other\n",
            "table/test_contributions.py::test_a_worked_example"),
    _mutant("bound-on-a-stage-left-out", "plan/taken_apart.py", "if split(bound.key)[0] not in silent)", "if True)",
            "plan/test_taken_apart.py"),
    _mutant("one-chain-twice", "plan/taken_apart.py", "if silent not in self.made:", "if True:",
            "plan/test_taken_apart.py"),
    _mutant("tap-of-another-stage", "render/tapping.py", "{number - self._covered: self", "{number: self",
            "render/test_tapping.py"),
    _mutant("taps-of-the-first-pass", "render/task.py", "        self.behind = tapped.measured()\n",
            "        self.behind = self.behind or tapped.measured()\n", "render/test_tapping.py"),
    # Effects of settings.
    _mutant("mixes-thrown-together", "table/effects/additive.py",
            "np.equal.outer(np.asarray(groups), np.unique(groups)).astype(np.float64)", "np.ones((len(groups), 1))",
            "table/effects/test_additive.py::test_a_mix_is_taken_by_itself"),
    _mutant("not-about-the-mean", "table/effects/additive.py", "columns[there] = own - own.mean(axis=0)",
            "columns[there] = own",
            "table/effects/test_additive.py::test_a_setting_that_only_one_alternative_has_is_told_within_it"),
    _mutant("what-goes-together-is-guessed", "table/effects/effect.py",
            "if not all(fit.tells(row) for row in weights):", "if False:",
            "table/effects/test_additive.py::test_settings_that_went_together_are_not_told_apart"),
    _mutant("interval-of-one-sided-95", "table/effects/additive.py", "(1.0 - CONFIDENCE) / 2 / compared",
            "(1.0 - CONFIDENCE) / compared",
            "table/effects/test_additive.py::test_intervals_hold_what_is_true_as_often_as_they_say"),
    _mutant("interval-of-what-was-picked", "table/effects/effect.py", "len(levels) * (len(levels) - 1) // 2", "1",
            "table/effects/test_additive.py::test_two_way_analysis_of_a_textbook"),
    _mutant("solved-settings-as-varied", "table/effects/factors.py", "if name not in solved]", "]",
            "table/effects/test_factors.py::test_what_has_one_value_is_told_apart_and_what_was_solved_is_no_factor"),
    _mutant("importance-of-one-end", "plan/importance.py", "for sign in (1.0, -1.0)]", "for sign in (1.0,)]",
            "plan/test_importance.py::test_it_does_not_matter_which_way_is_better"),
    _mutant("interval-drawn-to-one-side", "pictures/effects.py", "across.at(one.value - half)", "across.at(one.value)",
            "pictures/test_effects.py::test_a_dot_stands_where_its_mean_is_and_its_interval_around_it"),
    _mutant("excerpts-without-lead", "render/rehearsal.py", "first = at + piece.lead\n", "first = at\n",
            "render/test_rehearsal.py::test_a_gain_is_foretold_as_it_is"),
    _mutant("off-forgotten", "render/foresight.py",
            "        known = [off for off in self._offs if off.edition == edition] or self._offs\n",
            "        known = []\n",
            "render/test_foresight.py::test_excerpts_that_are_off_leave_two"),
    _mutant("knobs-left-where-excerpts-were", "render/solve.py", "        knob.turn(value)\n    if best",
            "        pass\n    if best", "render/test_foresight.py"),
    _mutant("foretold-taken-for-measured", "render/solve.py", "JointPass(at, tuple(excess(order, measured[-1])",
            "JointPass(at, tuple((0.0,) * len(order.goals)", "render/test_foresight.py"),
    _mutant("gate-of-the-mix", "meter/foretold.py", "powers[audible] *= ", "powers[audible] += 0 * ",
            "meter/test_foretold.py"),
    _mutant("peaks-not-looked-for", "render/rehearsal.py", "if chosen else ())", "if not chosen else ())",
            "render/test_rehearsal.py::test_what_is_foretold_is_what_a_full_render_measures_or_near_it"),
    _mutant("excerpts-from-the-store", "render/upstream.py", "return (*self._loaded, *self._room.stages)",
            "return self._room.stages", "render/test_rehearsal.py::test_the_store_has_no_say_in_it"),
    # The page that plays it, in a browser.
    _mutant("switched-without-a-crossfade", "audition/page/worklet.js", "const FADE_S = 0.01;",
            "const FADE_S = 0.0001;",
            "audition/browser/test_playback.py::test_a_switch_is_a_linear_equal_gain_crossfade_of_ten_milliseconds"),
    _mutant("a-loop-that-clicks", "audition/page/worklet.js", "      if (seamed)\n        this._add(",
            "      if (false)\n        this._add(",
            "audition/browser/test_playback.py::test_a_loop_goes_round_without_a_gap_and_begins_whole"),
    _mutant("levels-not-matched", "audition/page/worklet.js", "return this.delivery ? 0 : sound.matched_db;",
            "return 0;",
            "audition/browser/test_levels.py::test_the_gains_of_the_manifest_are_what_is_applied_and_what_is_shown"),
    _mutant("references-out-of-step", "audition/page/player.js", "number * this.chunkFrames + offset_frames",
            "number * this.chunkFrames",
            "audition/browser/test_playback.py::test_every_sound_is_in_step_with_the_mix_to_the_sample"),
    _mutant("names-while-hidden", "audition/page/desk.js", "if (this.blind) return letters",
            "if (false) return letters",
            "audition/browser/test_hiding.py::test_while_names_are_hidden_the_page_holds_none"),
    _mutant("what-sounds-is-let-go-of", "audition/page/worklet.js", "const sounding = this.edge > 0 ?",
            "const sounding = this.edge > 9 ?",
            "audition/browser/test_playback.py::test_a_jump_to_what_is_not_held_yet_fades_out_first"),
    _mutant("an-unfinished-choice-is-dropped", "audition/page/choosing.js",
            'this._keep("choice", null, (book) => NotesBook.withTrial(book, this._with_ids(result)));',
            'this._keep("choice", null);',
            "audition/browser/test_hiding.py::test_an_unfinished_forced_choice_is_never_dropped_and_keeps_hidden_names"),
    _mutant("guessing-more-than-right", "audition/page/guessing.js", "if (k >= right)", "if (k > right)",
            "audition/browser/test_logic.py::test_the_probability_of_guessing_is_the_exact_binomial"),
    _mutant("runs-while-paused", "audition/page/player.js", "    this.context.suspend();\n", "",
            "audition/browser/test_page.py::test_a_paused_page_is_idle"),
    # Delivery and intake.
    _mutant("dither-of-half-the-width", "delivery/dither.py",
            "sum(axis=1) * _STEP - 1.0)", "sum(axis=1) * _STEP - 1.0) / 2",
            "delivery/test_dither.py::test_tpdf_leaves_a_quarter_of_a_step_squared_in_silence"),
    _mutant("trims-at-the-mixs-rate", "delivery/signal_path.py",
            "edits, frames, rate_hz)", "edits, frames, render.format.rate_hz)",
            "delivery/test_delivering.py::test_each_file_is_what_its_spec_says_and_as_long_as_the_edits"),
    _mutant("render-not-held-against-its-sheet", "delivery/looking_ahead.py",
            "if watched.audio_sha256 != order.audio_sha256:", "if False:",
            "delivery/test_delivering.py::test_a_render_that_was_changed_is_refused"),
    _mutant("ceiling-not-trimmed-to", "delivery/ceiling.py", "_hundredths(over + ON_IT_DB) if over else 0.0", "0.0",
            "delivery/test_ceiling.py::test_what_is_over_comes_down_by_that_to_the_next_hundredth"),
    _mutant("tracks-that-start-inside-a-discs-block", "delivery/edits.py",
            "wanted + -(frames + wanted) % DISC_BLOCK_FRAMES", "wanted",
            "delivery/test_edits.py::test_at_the_rate_of_a_disc_silence_ends_on_a_block_and_is_never_shortened"),
    _mutant("gaps-left-out-of-the-proof", "album/joining.py", "for at in range(0, piece.gap, SILENCE_FRAMES)",
            "for at in range(0, 0, SILENCE_FRAMES)",
            "album/test_assembling.py::test_the_silence_between_is_digital_and_as_long_as_asked"),
    _mutant("a-maybe-taken-for-a-pick", "album/tracks.py", ".verdict == KEEP]", ".verdict]",
            "album/test_assembling.py::test_where_no_one_variant_is_picked_it_is_a_fault_of_the_line"),
    _mutant("neighbours-the-wrong-way-round", "album/edges.py", "else other - one", "else one - other",
            "album/test_assembling.py::test_between_neighbours_the_steps_are_those_of_the_sounds"),
    _mutant("coder-found-everywhere", "meter/coding_grid.py",
            "return self.sigmas >= CLEAR_SIGMAS and self.depth_db >= CLEAR_DB", "return True",
            "meter/test_coding_grid.py::test_music_that_was_never_coded_has_no_blocks"),
)  # fmt: skip


class InvalidMutant(Exception):
    """A mutant that cannot be judged: it changes nothing, its tests do not run, or it is no code."""


@dataclass(frozen=True)
class Outcome:
    """killed: a test failed. by: that test. seconds: copying included."""

    killed: bool
    by: str
    seconds: float


def copied(folder: Path) -> None:
    """Copy what the tests need into a folder."""
    for name in COPIED:
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(ROOT / name, folder)


def broken(text: str, mutant: Mutant) -> str:
    """The file's text with the breakage in it. Raises InvalidMutant."""
    if text.count(mutant.old) != 1 or mutant.old == mutant.new:
        raise InvalidMutant(f"{mutant.name}: stands {text.count(mutant.old)} times in {mutant.file}, not once")
    text = text.replace(mutant.old, mutant.new)
    try:
        if mutant.file.endswith(".py"):
            compile(text, mutant.file, "exec")
    except SyntaxError as exc:
        raise InvalidMutant(f"{mutant.name}: {exc}") from exc
    return text


def in_copy(folder: Path, command: Sequence[str], timeout_s: float = TIMEOUT_S) -> subprocess.CompletedProcess[str]:
    """Run Python in the copy, so that it and its children import the copy and not what is installed."""
    environment = {**os.environ, "PYTHONPATH": str(folder)}
    return subprocess.run([sys.executable, *command], cwd=folder, env=environment, capture_output=True, text=True,
                          timeout=timeout_s, check=False)  # fmt: skip


def first_failure(folder: Path, tests: Sequence[str], timeout_s: float = TIMEOUT_S) -> str:
    """Run tests in the copy until one fails: its name; "" when all pass.

    Raises InvalidMutant when they do not run, take too long, or fail otherwise than in a test of working code.
    """
    report = folder / "report.xml"
    options = ["-x", "-q", "-p", "no:cacheprovider", "--long", "--hypothesis-seed=1", f"--junitxml={report}"]
    try:
        done = in_copy(folder, ["-m", "pytest", *options, *tests], timeout_s)
    except subprocess.TimeoutExpired as exc:
        raise InvalidMutant(f"its tests take more than {timeout_s:g} s") from exc
    if done.returncode == 0:
        return ""
    failures = _failures(report)
    if done.returncode != 1 or not failures or any(word in failures[0][1] for word in NO_CODE):
        raise InvalidMutant(f"pytest ended with {done.returncode}, not for a test:\n{done.stdout}{done.stderr}")
    return failures[0][0]


def _failures(report: Path) -> list[tuple[str, str]]:
    """The tests that failed, and what each said; a fixture or a module that failed is none."""
    cases = ElementTree.parse(report).iter("testcase") if report.exists() else ()
    return [(case.attrib["name"], told.attrib.get("message", "")) for case in cases for told in case.iter("failure")]


def judged(mutant: Mutant) -> Outcome:
    """Break a copy and try its tests. Raises InvalidMutant."""
    began = time.perf_counter()
    with tempfile.TemporaryDirectory(prefix="mutant-") as temporary:
        folder = Path(temporary)
        copied(folder)
        file = folder / "sweeper" / mutant.file
        file.write_text(broken(file.read_text("utf-8"), mutant), "utf-8")
        by = first_failure(folder, mutant.tests)
    return Outcome(bool(by), by, time.perf_counter() - began)


def main(names: Sequence[str]) -> int:
    """A line a mutant; 0 when all are killed. `names`: none = all."""
    unknown = set(names) - {mutant.name for mutant in MUTANTS}
    if unknown:
        print(f"no mutant is called {', '.join(sorted(unknown))}", file=sys.stderr)
        return 2
    survived = 0
    for mutant in MUTANTS:
        if names and mutant.name not in names:
            continue
        try:
            outcome = judged(mutant)
        except InvalidMutant as exc:
            print(f"INVALID   {mutant.name}: {exc}", flush=True)
            survived += 1
            continue
        survived += not outcome.killed
        verdict = f"killed    {mutant.name} by {outcome.by}" if outcome.killed else f"SURVIVED  {mutant.name}"
        print(f"{verdict}, {outcome.seconds:.1f} s", flush=True)
    return int(survived > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
