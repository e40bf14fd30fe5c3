"""Every fault of a chain file: its place, what is said, and the remedy."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.chain import load_chain
from sweeper.errors import ChainFileError

KEEP_ONE = "keep one of the two"
LIST = "write a list, e.g. [1 dB, 2 dB], or {from: 1 dB, to: 4 dB, steps: 4}"
BOUND = "write e.g. 'crest >= 8 dB' or 'mono loss <= 1 LU'"
LIST_HERE = "write one value here; values to compare go under 'vary'"
BASE = "mix: a.wav\noutput:\n  - {name: limiter, plugin: Brick, drive: raise Input, ceiling: Ceiling}\n"

# What is added as line 4 to a good file, where, what, remedy.
ADDED = [
    # keys and kinds
    ("titel: x", "4:1", "unknown key 'titel'", "did you mean 'title'?"),
    ("title: [a]", "4:8", "title is a list, not a single value", "write one value"),
    ("title:", "4:1", "title has no value", "write one, or take the line out"),
    ('title: "a\\ab"', "4:8", "title holds a character that cannot be shown", "delete it"),
    ("mix: b.wav", "4:1", "'mix' stands twice; first on line 1", KEEP_ONE),
    ("mixes: b.wav", "1:1", "'mix' and 'mixes' both stand in this file", KEEP_ONE),
    ("vary: [limiter.drive]", "4:7", "vary is a list, not a mapping", "write NAME: VALUE, one a line"),
    ("vary: {[a]: 1}", "4:8", "a name in vary is a list", "write a name before the ':'"),
    ("vary: {'': 1}", "4:8", "a name in vary is empty", "write a name before the ':'"),
    # references
    ("references: [c.wav]", "4:14", "there is no file 'c.wav'", "paths start from the chain file's folder"),
    ("references: [lantern-bai.wav]", "4:14", "there is no file 'lantern-bai.wav'",
     "did you mean 'lantern-bay.wav'?"),
    ("references: states", "4:13", "'states' is a folder, not a file", "name the file inside it"),
    ("references: ['']", "4:14", "a reference has no value", "write one, or take the line out"),
    ("references:\n  -\n  - a.wav", "5:4", "references has an empty entry", "fill it in or take it out"),
    # stages
    ("inserts: [nothing]", "4:11", "a stage is a single value, not a mapping",
     "write plugin: NAME, and its settings below that"),
    ("inserts: [{name: q}]", "4:11", "this stage names no plugin",
     "add plugin: NAME; `sweeper plugins` lists them"),
    ("inserts: [{plugin: A, setings: {X: 1}}]", "4:23", "unknown key 'setings' in a stage",
     "did you mean 'settings'?"),
    ("inserts: [{plugin: A, zzz: 1}]", "4:23", "unknown key 'zzz' in a stage",
     "known here: name, plugin, any of, outside, returned, state, channels, settings, input trim, output trim, blend, "
     "bypass, drive, ceiling, polarity, latency, tail, instances"),
    ("inserts: [{plugin: Limiter}]", "3:12", "two stages are called 'limiter'; first on line 4",
     "give one of them another 'name:'"),
    ("inserts: [{name: Limiter , plugin: A}]", "3:12", "two stages are called 'limiter'; first on line 4",
     "give one of them another 'name:'"),
    ("inserts: [{name: x.y, plugin: B}]", "4:18", "the stage's name 'x.y' has a dot in it",
     "write it without dots"),
    ("inserts: [{plugin: C 2.0}]", "4:11", "the stage's name 'c 2.0' has a dot in it",
     "add a 'name:' without dots"),
    ('inserts: [{name: a, plugin: "builtin:"}]', "4:29", "'builtin:' names no effect",
     "write e.g. builtin:Compressor"),
    ("inserts: [{plugin: A, state: states/glu.vstpreset}]", "4:30", "there is no file 'states/glu.vstpreset'",
     "did you mean 'glue.vstpreset'?"),
    ("inserts: [{plugin: A, channels: midside}]", "4:33", "channels is 'midside'", "did you mean 'mid/side'?"),
    ("inserts: [{plugin: A, bypass: maybe}]", "4:31", "bypass is 'maybe'", "write on or off"),
    ("inserts: [{plugin: A, input trim: 90 dB}]", "4:35", "input trim of 90 dB is beyond reason",
     "write -60 dB to 60 dB"),
    ("inserts: [{plugin: A, output trim: 3 ms}]", "4:36", "'3 ms' is in ms, output trim is in dB",
     "write a number in dB"),
    ("inserts: [{plugin: A, output trim: loud}]", "4:36", "output trim is 'loud', not a number",
     "write a number in dB"),
    ("inserts: [{plugin: A, input trim: 1 dB, settings: {Input  Trim: 2 dB}}]", "4:52",
     "'input trim' stands twice; first on line 4", KEEP_ONE),
    # handles
    ("inserts: [{plugin: A, drive: Input}]", "4:30",
     "drive is 'Input', which does not say the way to more drive", "write e.g. 'raise Input' or 'lower Input'"),
    ("inserts: [{plugin: A, drive: raise}]", "4:30",
     "drive is 'raise', which does not say the way to more drive",
     "write e.g. 'raise Input' or 'lower Threshold'"),
    # settings
    ("inserts: [{plugin: A, settings: loud}]", "4:33", "settings is a single value, not a mapping",
     "write NAME: VALUE, one a line"),
    ("inserts: [{plugin: A, settings: {X: [1, 2]}}]", "4:37", "X is a list, not a single value", LIST_HERE),
    ("inserts: [{plugin: A, settings: {X: {Y: 1}}}]", "4:37", "X is a mapping, not a single value", LIST_HERE),
    ("inserts: [{plugin: A, settings: {X: }}]", "4:34", "X has no value", "write one, or take the line out"),
    ("inserts: [{plugin: A, settings: {X: 1,5}}]", "4:39",
     "'5' stands alone: a comma inside { } or [ ] starts a new entry",
     "write a decimal point, or put the number in quotes"),
    ("inserts: [{plugin: A, settings: {X: 1, x: 2}}]", "4:40", "'x' stands twice; first on line 4", KEEP_ONE),
    ("inserts: [{plugin: A, settings: {X: -3 % travel}}]", "4:37", "'-3 % travel' is beyond the control's way",
     "write 0 to 100 % travel"),
    ("inserts: [{plugin: A, settings: {X: 1e999}}]", "4:37", "'1e999' is too large", "check the number"),
    ("inserts: [{plugin: A, settings: {mid: {X: 1}}}]", "4:34",
     "this stage has no 'mid': its channels are stereo", "add channels: mid/side"),
    ("inserts: [{plugin: A, channels: mid/side, settings: {left: {X: 1}}}]", "4:54",
     "this stage has no 'left': its channels are mid/side", "add channels: left/right"),
    ("inserts: [{plugin: A, channels: mid/side, settings: {mid: {x: 1}, X: 2}}]", "4:60",
     "'x' is set for every side on line 4 already", KEEP_ONE),
    ("inserts: [{plugin: A, channels: mid/side, settings: {mid: {input trim: 1 dB}}}]", "4:60",
     "'input trim' belongs to the whole stage, not to one side", "write it beside 'settings'"),
    # vary
    ("vary: {drive: [1, 2]}", "4:8", "'drive' does not name a setting of a stage",
     "write STAGE.SETTING, e.g. limiter.drive"),
    ("vary: {limitr.drive: [1, 2]}", "4:8", "no stage is called 'limitr'", "did you mean 'limiter.drive'?"),
    ("vary: {zz.drive: [1, 2]}", "4:8", "no stage is called 'zz'", "stages here: limiter"),
    ("vary: {limiter.Release: 5 ms}", "4:25", "'limiter.Release' needs the values to compare", LIST),
    ("vary: {limiter.Release: []}", "4:25", "'limiter.Release' needs the values to compare", LIST),
    ("vary: {limiter.Release: [[1]]}", "4:26", "limiter.Release is a list, not a single value", LIST_HERE),
    ("vary: {limiter.Release: [5 ms, 0.005 s]}", "4:32", "'0.005 s' stands twice in 'limiter.Release'", KEEP_ONE),
    ("vary: {limiter.Mode: [Soft, soft]}", "4:29", "'soft' stands twice in 'limiter.Mode'", KEEP_ONE),
    ("vary: {limiter.Mode: [on, yes]}", "4:27", "'yes' stands twice in 'limiter.Mode'", KEEP_ONE),
    ("vary: {limiter.X: [5 % travel, 5.0 % travel]}", "4:32", "'5.0 % travel' stands twice in 'limiter.X'", KEEP_ONE),
    ("vary: {limiter.drive: [1 dB], limiter.Input: [2 dB]}", "4:31",
     "'limiter.Input' turns the same control as 'limiter.drive' on line 4", KEEP_ONE),
    ("vary: {limiter.bypass: [on, maybe]}", "4:24", "'limiter.bypass' takes on and off only", "write [on, off]"),
    ("vary: {limiter.input trim: [1 dB, 2 ms]}", "4:28", "'limiter.input trim' takes values in dB only",
     "write e.g. [0 dB, 3 dB]"),
    ("vary: {limiter.X: {from: 1, to: 2}}", "4:19", "'limiter.X' has no 'steps'", LIST),
    ("vary: {limiter.X: {from: 1, to: 2, steps: 1}}", "4:43", "steps is '1'",
     "write how many values, 2 to 1000, both ends counted"),
    ("vary: {limiter.X: {from: 1, to: 2, steps: 2.5}}", "4:43", "steps is '2.5'",
     "write how many values, 2 to 1000, both ends counted"),
    ("vary: {limiter.X: {from: low, to: 2, steps: 3}}", "4:26", "'from' is 'low', not a number", LIST),
    ("vary: {limiter.X: {from: 1 ms, to: 2 dB, steps: 3}}", "4:36", "'2 dB' and '1 ms' are not in one unit",
     "write both ends in the same unit"),
    ("vary: {limiter.X: {from: 1 ms, to: 0.001 s, steps: 3}}", "4:36", "'from' and 'to' are the same",
     "write a list with one value"),
    ("vary: {limiter.X: {from: 0, to: 2, steps: 3, spacing: log}}", "4:26",
     "'from' is not above 0, which spacing: log needs", "write spacing: linear, or a value above 0"),
    ("vary: {limiter.X: {from: 1, to: -2, steps: 3, spacing: log}}", "4:33",
     "'to' is not above 0, which spacing: log needs", "write spacing: linear, or a value above 0"),
    ("vary: {limiter.X: {from: 1, to: 2, steps: 3, spacing: even}}", "4:55", "spacing is 'even'",
     "write linear or log"),
    ("vary: {limiter.X: {from: 1, to: 2, stps: 3}}", "4:36", "unknown key 'stps' in vary",
     "did you mean 'steps'?"),
    # any of
    ("inserts: [{any of: [{plugin: A}, {plugin: B}]}]", "4:11", "this stage has alternatives and no name",
     "add e.g. name: colour"),
    ("inserts: [{name: c, any of: [{plugin: A}]}]", "4:21", "'any of' names one alternative",
     "write e.g. any of: [{plugin: A}, {plugin: B}], or take 'any of' out"),
    ("inserts: [{name: c, any of: {plugin: A}}]", "4:21", "'any of' names one alternative",
     "write e.g. any of: [{plugin: A}, {plugin: B}], or take 'any of' out"),
    ("inserts: [{name: c, any of: }]", "4:21", "'any of' names no alternative",
     "write e.g. any of: [{plugin: A}, {plugin: B}], or take 'any of' out"),
    ("inserts: [{name: c, any of: [A, {plugin: B}]}]", "4:30", "an alternative is a single value, not a mapping",
     "write e.g. any of: [{plugin: A}, {plugin: B}]"),
    ("inserts: [{name: c, any of: [{plugin: A}, {state: a.wav}]}]", "4:43", "this alternative names no plugin",
     "add plugin: NAME; `sweeper plugins` lists them"),
    ("inserts: [{name: c, any of: [{plugin: A}, {plugin: B, setings: {}}]}]", "4:55",
     "unknown key 'setings' in an alternative", "did you mean 'settings'?"),
    ("inserts: [{name: c, any of: [{plugin: A, bypass: on}, {plugin: B}]}]", "4:42",
     "'bypass' belongs to the whole stage, not to one alternative", "write it beside 'any of'"),
    ("inserts: [{name: c, any of: [{plugin: A, any of: []}, {plugin: B}]}]", "4:42",
     "'any of' stands inside 'any of'", "list all alternatives in the outer one"),
    ("inserts: [{name: c, any of: [{plugin: A}, {plugin: B, input trim: 90 dB}]}]", "4:67",
     "input trim of 90 dB is beyond reason", "write -60 dB to 60 dB"),
    ("inserts: [{name: c, any of: [{plugin: V/A.vst3}, {plugin: a}]}]", "4:50",
     "two alternatives of 'c' are called 'a'; first on line 4", "give each a name:"),
    ("inserts: [{name: c, any of: [{plugin: A, name: B}, {plugin: B}]}]", "4:52",
     "two alternatives of 'c' are called 'B'; first on line 4", "give each a name:"),
    ("inserts: [{name: Sequence, any of: [{plugin: A}, {plugin: B}]}]", "4:18",
     "a stage with alternatives is called 'Sequence', which means the order of the inserts",
     "give it another 'name:'"),
    *((f"inserts: [{{name: c, {key}: {value}, any of: [{{plugin: A}}, {{plugin: B}}]}}]", "4:21",
       f"'{key}' stands beside 'any of'", "move it into the alternative that it is for")
      for key, value in (("plugin", "A"), ("state", "a.wav"), ("settings", "{X: 1}"), ("drive", "raise X"),
                         ("ceiling", "X"), ("latency", "10 ms"))),
    ("inserts: [{name: c, any of: [{plugin: A, drive: raise X}, {plugin: B}]}]\nvary: {c.drive: [1, 2]}", "5:8",
     "'c.drive' means every alternative, and 'B' has no 'drive'", "add drive: raise CONTROL to it"),
    ("inserts: [{name: c, any of: [{plugin: A}, {plugin: B, ceiling: X}]}]\n"
     "reach: {true peak: at most -1 dBTP, by: c.ceiling}", "5:41",
     "'c.ceiling' means every alternative, and 'A' has no 'ceiling'", "add ceiling: CONTROL to it"),
    ("inserts: [{name: c, channels: mid/side, any of: [{plugin: A}, {plugin: B, channels: stereo}]}]\n"
     "vary: {c.mid.X: [1, 2]}", "5:8", "'c.mid.X' means one side, and 'B' has no 'mid'",
     "give all alternatives the same channels"),
    ("inserts: [{name: c, any of: [{plugin: A, drive: raise X}, {plugin: B, drive: raise Y}]}]\n"
     "vary: {c.drive: [1, 2], c.Y: [1, 2]}", "5:25", "'c.Y' turns the same control as 'c.drive' on line 5", KEEP_ONE),
    ("inserts: [{name: c, any of: [{plugin: A, drive: raise input trim}, {plugin: B, drive: raise Y}]}]\n"
     "vary: {c.drive: [1 ms]}", "5:17", "'c.drive' takes values in dB only", "write e.g. [0 dB, 3 dB]"),
    ("inserts: [{name: c, any of: [{plugin: A, drive: X}, {plugin: B, drive: raise Y}]}]\nvary: {c.drive: [1, 2]}",
     "4:49", "drive is 'X', which does not say the way to more drive", "write e.g. 'raise X' or 'lower X'"),
    # sequence
    ("vary: {sequence: glue}", "4:18", "'sequence' needs the orders to compare",
     "write e.g. [[glue], [colour, glue]]"),
    ("vary: {sequence: []}", "4:18", "'sequence' needs the orders to compare", "write e.g. [[glue], [colour, glue]]"),
    ("inserts: [{name: glue, plugin: A}]\nvary: {sequence: [glue]}", "5:19",
     "an order in 'sequence' is a single value, not a list",
     "write e.g. [[glue], [colour, glue]]; [] for none of them"),
    ("inserts: [{name: glue, plugin: A}]\nvary: {sequence: [[glue], ~]}", "5:27",
     "sequence has an empty entry", "fill it in or take it out"),
    ("inserts: [{name: glue, plugin: A}]\nvary: {sequence: [[glue], [glu]]}", "5:28",
     "no insert is called 'glu'", "did you mean 'glue'?"),
    ("inserts: [{name: glue, plugin: A}]\nvary: {sequence: [[glue], [zz]]}", "5:28",
     "no insert is called 'zz'", "inserts here: glue"),
    ("inserts: [{name: glue, plugin: A}]\nvary: {sequence: [[glue], [{a: b}]]}", "5:28",
     "an insert in 'sequence' is a mapping, not a single value", "write the insert's name"),
    ("inserts: [{name: glue, plugin: A}]\nvary: {sequence: [[glue], [glue, Limiter]]}", "5:34",
     "'limiter' stands in 'output' and does not move", "name inserts; inserts here: glue"),
    ("inserts: [{name: glue, plugin: A}]\nvary: {sequence: [[], [glue, Glue]]}", "5:30",
     "'glue' stands twice in one order", KEEP_ONE),
    ("inserts: [{name: glue, plugin: A}]\nvary: {sequence: [[glue], [Glue]]}", "5:27",
     "'glue' stands twice; first on line 5", KEEP_ONE),
    ("inserts: [{name: glue, plugin: A}]\nvary: {sequence: [[], []]}", "5:23",
     "'none' stands twice; first on line 5", KEEP_ONE),
    # from dialled
    ("vary: {limiter.X: {from dialled: []}}", "4:34", "'from dialled' needs the steps to compare",
     "write e.g. [-1 dB, 0 dB, 1 dB] or [0 % travel, 5 % travel]"),
    ("vary: {limiter.X: {from dialled: 1 dB}}", "4:34", "'from dialled' needs the steps to compare",
     "write e.g. [-1 dB, 0 dB, 1 dB] or [0 % travel, 5 % travel]"),
    ("vary: {limiter.X: {from dialled: [1 dB], steps: 2}}", "4:42", "'steps' stands beside 'from dialled'",
     "take one of them out; write e.g. [-1 dB, 0 dB, 1 dB] or [0 % travel, 5 % travel]"),
    ("vary: {limiter.X: {from dialled: [Warm]}}", "4:35",
     "'Warm' is no step away from where a setting is dialled",
     "write e.g. [-1 dB, 0 dB, 1 dB] or [0 % travel, 5 % travel]"),
    ("vary: {limiter.X: {from dialled: [101 % travel]}}", "4:35", "'101 % travel' is beyond the control's way",
     "write -100 to 100 % travel"),
    ("vary: {limiter.X: {from dialled: [1e999]}}", "4:35", "'1e999' is too large", "check the number"),
    ("vary: {limiter.X: {from dialled: [[1]]}}", "4:35", "from dialled is a list, not a single value", LIST_HERE),
    ("vary: {limiter.X: {from dialled: [0 dB, 0 % travel]}}", "4:41", "'as dialled' stands twice in 'limiter.X'",
     KEEP_ONE),
    ("vary: {limiter.X: {from dialled: [1 s, 1000 ms]}}", "4:40", "'dialled +1000 ms' stands twice in 'limiter.X'",
     KEEP_ONE),
    ("vary: {limiter.input trim: {from dialled: [5 % travel]}}", "4:28",
     "'limiter.input trim' takes values in dB only", "write e.g. [0 dB, 3 dB]"),
    ("vary: {limiter.bypass: {from dialled: [0 dB]}}", "4:24", "'limiter.bypass' takes on and off only",
     "write [on, off]"),
    ("vary: {limiter.A: {from: 1, to: 2, steps: 400}, limiter.B: {from: 1, to: 2, steps: 400}}", "4:1",
     "this asks for 160000 variants", "try fewer values: 100000 at most"),
    # reach
    ("reach: {loudnes: -10 LUFS, by: limiter.drive}", "4:9", "unknown key 'loudnes' in reach",
     "did you mean 'loudness'?"),
    ("reach: loud", "4:8", "an entry of 'reach' is a single value, not a mapping",
     "write NAME: VALUE, one a line"),
    ("reach: {by: limiter.drive}", "4:8", "this entry of 'reach' names no measurement",
     "add e.g. loudness: -14 LUFS"),
    ("reach: {loudness: -10 dB, by: limiter.drive}", "4:19", "'-10 dB' is in dB, loudness is in LUFS",
     "write a number in LUFS"),
    ("reach: {loudness: loud, by: limiter.drive}", "4:19", "loudness is 'loud', not a number",
     "write a number in LUFS"),
    ("reach: {loudness: -60.5 LUFS, by: limiter.drive}", "4:19", "loudness of -60.5 LUFS cannot be meant",
     "write -60 LUFS to 0 LUFS"),
    ("reach: {loudness: 10 LUFS, by: limiter.drive}", "4:19", "loudness of 10 LUFS cannot be meant",
     "write -60 LUFS to 0 LUFS"),
    ("reach: {loudness: at most -10 LUFS, by: limiter.drive}", "4:19",
     "loudness is 'at most -10 LUFS': it is landed on, not capped",
     "write -10 LUFS alone, or put 'loudness <= -10 LUFS' under 'limits'"),
    ("reach: {loudness: -10 LUFS}", "4:9", "'loudness' names no setting to solve",
     "add e.g. by: limiter.drive"),
    ("reach: {loudness: -10 LUFS, by: limitr.drive}", "4:33", "no stage is called 'limitr'",
     "did you mean 'limiter.drive'?"),
    ("reach: {loudness: -10 LUFS, by: limiter}", "4:33", "'limiter' does not name a setting of a stage",
     "write STAGE.SETTING, e.g. limiter.drive"),
    ("reach: {loudness: -10 LUFS, by: limiter.bypass}", "4:33", "bypass is on or off, nothing to solve",
     "name a setting with a range"),
    ("reach: {loudness: -10 LUFS, by: limiter.drive, within: 0.001 LU}", "4:56",
     "within 0.001 LU is finer than can be reached", "write 0.01 LU or more"),
    ("reach: {loudness: -10 LUFS, by: limiter.drive, within: 1 ms}", "4:56", "'1 ms' is in ms, within is in LU",
     "write a number in LU"),
    ("reach: {loudness: -10 LUFS, by: limiter.drive, stop at: [crest]}", "4:58",
     "'crest' is no bound on a measurement", BOUND),
    ("reach: {overs: 3, by: limiter.drive}", "4:9", "'overs' cannot be landed on", "put a bound on it under 'limits'"),
    ("reach: {limiter.attenuation: 41 dB, by: limiter.drive}", "4:30", "limiter.attenuation of 41 dB cannot be meant",
     "write 0 dB to 40 dB"),
    ("reach: {limiter.residue.floor: -90 dB, by: limiter.drive}", "4:9", "'limiter.residue.floor' cannot be landed on",
     "put a bound on it under 'limits'"),
    ("limits: [limitr.attenuation <= 4 dB]", "4:10", "no stage is called 'limitr'", "write 'limiter'"),
    ("limits: [limiter.crest <= 8 dB]", "4:10", "crest is measured of the whole master, not of one stage",
     "write 'crest'; of a stage there are attenuation, attenuation.median, attenuation.most, attenuation.share, "
     "residue, residue.floor, distortion, distortion.floor, second harmonic, third harmonic"),
    ("limits: [limiter.atenuation <= 4 dB]", "4:10", "no measurement is called 'limiter.atenuation'",
     "did you mean 'limiter.attenuation'?"),
    ("limits: [limiter.attenuation <= 4 dB, Limiter.Attenuation <= 5 dB]", "4:39",
     "'Limiter.Attenuation <= 5 dB' bounds what line 4 bounds already", KEEP_ONE),
    ("reach: {dc: -70 dBFS, by: limiter.drive}", "4:9", "'dc' cannot be landed on", "put a bound on it under 'limits'"),
    ("reach: {true peak: -1 dBTP}", "4:20", "true peak is '-1 dBTP', which is no ceiling",
     "write e.g. at most -1 dBTP"),
    ("reach: {true peak: at most -1 dB}", "4:20", "'-1 dB' is in dB, true peak is in dBTP",
     "write a number in dBTP"),
    ("reach: {true peak: -1 dBTP, by: limiter.ceiling}", "4:20", "true peak is '-1 dBTP', which is no ceiling",
     "write e.g. at most -1 dBTP"),
    ("reach: {true peak: at most -1 dBTP, by: limiter.ceiling, stop at: [crest >= 8 dB]}", "4:58",
     "'stop at' has no use under a ceiling, which true peak is here",
     "move it to the entry whose setting it should stop"),
    ("reach: {true peak: at most -1 dBTP, by: limiter.ceiling, within: 0.001 dB}", "4:66",
     "within 0.001 dB is finer than can be reached", "write 0.01 dB or more"),
    ("reach: {true peak: at most 20 dBTP}", "4:20", "true peak of 20 dBTP cannot be meant",
     "write -60 dBTP to 6 dBTP"),
    ("reach: {sample peak: -1 dBFS}", "4:9", "'sample peak' names no setting to solve", "add e.g. by: limiter.drive"),
    ("reach: {sample peak: at most -1 dBFS, stop at: [crest >= 8 dB]}", "4:39",
     "'stop at' has no use here: nothing is solved for the sample peak", "take it out, or add by: SETTING"),
    ("reach: {crest: at most 9 dB, by: limiter.drive}", "4:16", "crest is 'at most 9 dB': it is landed on, not capped",
     "write 9 dB alone, or put 'crest <= 9 dB' under 'limits'"),
    ("reach: {crest: 50 dB, by: limiter.drive}", "4:16", "crest of 50 dB cannot be meant", "write 0 dB to 40 dB"),
    ("reach: {correlation: 1.5, by: limiter.drive}", "4:22", "correlation of 1.5 cannot be meant", "write -1 to 1"),
    ("reach: {correlation: 0.5, by: limiter.drive, within: 0.001}", "4:54",
     "within 0.001 is finer than can be reached", "write 0.01 or more"),
    ("reach: {crest: 9 dB, by: limiter.drive, within: 1 LUFS}", "4:49", "'1 LUFS' is in LUFS, within is in dB",
     "write a number in dB"),
    ("reach: [{loudness: -9 LUFS, by: limiter.drive}, {crest: 8 dB, by: limiter.Input}]", "4:67",
     "'limiter.Input' is solved on line 4 already", "solve another setting here"),
    ("reach: [{loudness: -9, by: limiter.A}, {crest: 8, by: limiter.B}, {plr: 8, by: limiter.C}, "
     "{psr: 7, by: limiter.D}]", "4:93", "a fourth setting to solve: three are solved together at most",
     "take one entry out, or put a bound on 'psr' under 'limits'"),
    ("reach: {true peak: at most -1 dBTP, within: 0.1 dB}", "4:37",
     "'within' has no use here: nothing is solved for the true peak", "take it out, or add by: SETTING"),
    ("reach: {loudness: -9 LUFS, true peak: at most -1 dBTP, by: limiter.drive}", "4:28",
     "'true peak' shares an entry with 'loudness'", "give it an entry of its own"),
    ("reach: [{loudness: -9 LUFS, by: limiter.drive}, {loudness: -8 LUFS, by: limiter.Mix}]", "4:50",
     "'loudness' is reached twice; first on line 4", KEEP_ONE),
    ("vary: {limiter.Input: [1, 2]}\nreach: {loudness: -10 LUFS, by: limiter.drive}", "5:33",
     "'limiter.drive' is solved here and varied on line 4", "take it out of 'vary', or solve another setting"),
    ("inserts: [{plugin: A, bypass: on}]\nvary: {a.X: [1, 2]}", "5:8",
     "'a' is bypassed, so 'a.X' changes nothing", "take this out, or 'bypass' out of 'a'"),
    ("inserts: [{plugin: A, bypass: on}]\nreach: {loudness: -10 LUFS, by: a.X}", "5:33",
     "'a' is bypassed, so 'a.X' changes nothing", "take 'bypass' out of 'a', or solve another setting"),
    ("inserts: [{plugin: A, channels: mid/side}]\nvary: {a.mid.input trim: [1 dB]}", "5:8",
     "'input trim' belongs to the whole stage, not to one side", "write a.input trim"),
    ("inserts: [{plugin: A, channels: mid/side}]\nvary: {a.mid.X: [1], a.X: [2]}", "5:22",
     "'a.X' turns the same control as 'a.mid.X' on line 5", KEEP_ONE),
    # limits, prefer, album, audition
    ("limits: [crest > 8 dB]", "4:10", "'crest > 8 dB' is no bound on a measurement", BOUND),
    ("limits: {crest: 8 dB}", "4:9", "an entry of 'limits' is a mapping, not a single value", BOUND),
    ("limits: [crst >= 8 dB]", "4:10", "no measurement is called 'crst'", "did you mean 'crest'?"),
    ("limits: [mono loss <= 1 dB]", "4:10", "'1 dB' is in dB, mono loss is in LU", "write a number in LU"),
    ("limits: [overs <= 3 dB]", "4:10", "'3 dB' is in dB, overs has no unit", "write a number without a unit"),
    ("limits: [crest >= 8 dB, crest ≥ 9 dB]", "4:25", "'crest ≥ 9 dB' bounds what line 4 bounds already", KEEP_ONE),
    ("reach: {true peak: at most -1 dBTP}\nlimits: true peak <= -2 dBTP", "5:9",
     "'true peak <= -2 dBTP' bounds what line 4 bounds already", KEEP_ONE),
    ("prefer: crest", "4:9", "'crest' does not say what ranks first",
     "write e.g. 'crest highest' or 'mono loss lowest'"),
    ("prefer: [crest highest, crest lowest]", "4:25", "'crest' ranks twice; first on line 4", KEEP_ONE),
    ("album: yes", "4:8", "album is 'yes'", "known here: each to target, keep relations"),
    ("album: keep relation", "4:8", "album is 'keep relation'", "did you mean 'keep relations'?"),
    ("audition: {keep: 6}", "4:12", "'keep' needs 'prefer': nothing says which variants are the best",
     "add e.g. prefer: [crest highest], or take 'keep' out"),
    ("prefer: []\naudition: {keep: 6}", "5:12", "'keep' needs 'prefer': nothing says which variants are the best",
     "add e.g. prefer: [crest highest], or take 'keep' out"),
    ("prefer: crest highest\naudition: {keep: 0}", "5:18", "keep is '0'",
     "write how many variants of each mix, 1 to 1000"),
    ("prefer: crest highest\naudition: {keep: 1001}", "5:18", "keep is '1001'",
     "write how many variants of each mix, 1 to 1000"),
    ("prefer: crest highest\naudition: {keep: few}", "5:18", "keep is 'few'",
     "write how many variants of each mix, 1 to 1000"),
    ("audition: {match over: [chorus]}", "4:25", "no section is called 'chorus'",
     "add it under the mix's 'sections'"),
    # what text editors do
    ("inserts: [{name: x, plugin: Comp #2}]\n    }]", "4:29",
     "'Comp' is cut short: everything after ' #' is a comment",
     "put the whole text in quotes, or write a space after # if it is a comment"),
    ("title: #1 hit", "4:1", "'title: #' is cut short: everything after ' #' is a comment",
     "put the whole text in quotes, or write a space after # if it is a comment"),
    ("references:\n  - #2.wav\n  - a.wav", "5:4", "'- #' is cut short: everything after ' #' is a comment",
     "put the whole text in quotes, or write a space after # if it is a comment"),
    ("references: [a.wav, #2.wav\n  ]", "4:13", "'#' is cut short: everything after ' #' is a comment",
     "put the whole text in quotes, or write a space after # if it is a comment"),
    ("title: “Lantern", "4:8", "the curly quote in '“Lantern' does not quote",
     "type straight quotes around the whole text"),
]  # fmt: skip


@pytest.mark.parametrize(("added", "place", "what", "remedy"), ADDED, ids=[row[0] for row in ADDED])
def test_a_fault_is_told_alone_at_its_place_with_a_remedy(problems, added, place, what, remedy):
    found = [(f"{p.line}:{p.column}", p.what, p.remedy) for p in problems(BASE + added + "\n")]
    assert found == [(place, what, remedy)]


# Whole files.
FILES = [
    ("", None, "is empty", "`sweeper start MIX` writes a chain file to begin with"),
    ("# nothing yet\n", None, "is empty", "`sweeper start MIX` writes a chain file to begin with"),
    ("- a.wav\n", "1:1", "the chain file is a list, not a mapping",
     "begin with e.g. title: NAME; `sweeper start MIX` writes a whole one"),
    ("output: {plugin: A}\n", None, "names no mix", "add mix: FILE"),
    ("mix: a.wav\ninserts:\n", None, "names no stage",
     "add 'inserts:' or 'output:' with at least one plugin"),
    ("mix:\noutput: {plugin: A}\n", "1:1", "'mix' names no file", "write the mix's file name"),
    ("mixes: []\noutput: {plugin: A}\n", "1:1", "'mixes' names no file", "write the mix's file name"),
    ("mix: c.wav\noutput: {plugin: A}\n", "1:6", "there is no file 'c.wav'",
     "paths start from the chain file's folder"),
    ("mix: {sections: {v: 0:00-0:20}}\noutput: {plugin: A}\n", "1:6", "this mix names no file", "add file: NAME"),
    ("mix: {file: a.wav, section: {v: 0:00-0:20}}\noutput: {plugin: A}\n", "1:20",
     "unknown key 'section' in a mix", "did you mean 'sections'?"),
    ("mix: {file: a.wav, sections: {v: 0:20}}\noutput: {plugin: A}\n", "1:34", "section 'v' is '0:20'",
     'write FROM-TO, e.g. "0:40-1:00"'),
    ("mix: {file: a.wav, sections: {v: 0:20-0:20}}\noutput: {plugin: A}\n", "1:34",
     "section 'v' ends at or before its start", "write the earlier time first"),
    ("mixes: [a.wav, ./a.wav]\noutput: {plugin: A}\n", "1:16", "'./a.wav' is on line 1 already", KEEP_ONE),
    ("mixes: [a.wav, b.wav]\noutput: {plugin: A}\nreach: {loudness: -14 LUFS, by: a.X}\n", "3:9",
     "2 mixes would all land on the same loudness",
     "add album: each to target if that is meant, or album: keep relations"),
    ("mixes: [{file: a.wav, sections: {v: 0:00-0:20}}, b.wav]\noutput: {plugin: A}\n"
     "audition: {match over: v}\n", "3:24", "the mix 'b.wav' has no section 'v'",
     "add it there: all mixes are matched over the same sections"),
    ("mix: {file: a.wav, sections: {verse: 0:00-0:20}}\noutput: {plugin: A}\naudition: {match over: vers}\n",
     "3:24", "no section is called 'vers'", "did you mean 'verse'?"),
    ("mix: ~nobody-of-that-name/a.wav\noutput: {plugin: A}\n", "1:6",
     "there is no file '~nobody-of-that-name/a.wav'", "paths start from the chain file's folder"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "place", "what", "remedy"), FILES, ids=[row[0] for row in FILES])
def test_a_fault_of_the_whole_file(problems, text, place, what, remedy):
    found = [(f"{p.line}:{p.column}" if p.line else None, p.what, p.remedy) for p in problems(text)]
    assert found == [(place, what, remedy)]


def test_a_file_that_is_not_there(folder):
    with pytest.raises(ChainFileError) as error:
        load_chain(Path("nothing.yaml"))
    assert str(error.value) == "nothing.yaml: there is no such file\n    check the name and the folder"


def test_a_folder(folder):
    with pytest.raises(ChainFileError) as error:
        load_chain(Path("states"))
    assert str(error.value) == "states: is a folder, not a chain file\n    name the chain file inside it"


def test_every_fault_is_told_at_once_in_the_files_order(problems):
    found = problems((Path(__file__).parent / "ten_faults.chain.yaml").read_text(encoding="utf-8"))
    expected = (Path(__file__).parent / "ten_faults.txt").read_text(encoding="utf-8")
    assert "\n".join(map(str, found)) + "\n" == expected
    assert len(found) == 10


def test_nothing_more_is_said_of_a_stage_whose_list_is_refused(problems):
    """A setting of a bus whose name could not be read is not called unknown."""
    found = problems(BASE + "buses: [lift]\nvary: {lift.level: [1, 2]}\nreach: {loudness: -9, by: rides.x.by}\n"
                     "rides: [x]\n")  # fmt: skip
    assert [problem.what for problem in found] == [
        "a bus is a single value, not a mapping", "a ride is a single value, not a mapping"]  # fmt: skip


def test_the_file_is_named_as_the_user_wrote_it(problems):
    assert problems("x: 1\n")[0].file == "album.chain.yaml"


def test_the_example_of_every_idea_has_no_fault(load):
    chain = load((Path(__file__).parent / "every_idea.chain.yaml").read_text(encoding="utf-8"))
    assert [spec.name for spec in chain.prints.to] == ["disc", "archive"]
    assert (chain.prints.title, chain.prints.isrc) == ("Lantern Bay", "XXXXX2600001")
