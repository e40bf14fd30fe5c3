"""`explore` in the chain file: what it says, what it lets ranges leave out, and its faults."""

from __future__ import annotations

import pytest

from sweeper.chain import Explore, Number, Spacing, Travel

BASE = """mix: a.wav
output: {name: limiter, plugin: Brick, drive: raise Input}
vary: {limiter.Release: [1 ms, 2 ms]}
prefer: [crest highest]
"""
NEEDS_PREFER = "add e.g. prefer: [crest highest], or take 'explore' out"
HOW_MUCH = "write 'whole', or 'excerpts' to render only the best in full"
HOW_MANY = "write how many variants of each mix at most, 1 to 10000"


@pytest.mark.parametrize(
    ("written", "explore"),
    [
        ("{variants: 60}", Explore(60, 1, None)),
        ("{variants: 60, seed: 7, stop after: 24}", Explore(60, 7, 24)),
        ("{variants: 10000, seed: 0}", Explore(10000, 0)),
        ("{variants: 6, listen to: excerpts}", Explore(6, excerpts=True)),
        ("{variants: 6, listen to: Whole}", Explore(6)),
    ],
)
def test_what_is_explored(load, written, explore):
    assert load(f"{BASE}explore: {written}\n").explore == explore


def test_without_it_every_combination_is_asked_for(load):
    assert load(BASE).explore is None


@pytest.mark.parametrize(
    ("written", "place", "what", "remedy"),
    [
        ("{}", "5:1", "'explore' does not say how many variants", "write e.g. explore: {variants: 60}"),
        ("", "5:1", "'explore' does not say how many variants", "write e.g. explore: {variants: 60}"),
        ("60", "5:10", "explore is a single value, not a mapping", "write NAME: VALUE, one a line"),
        ("{variants: 0}", "5:21", "variants is '0'", HOW_MANY),
        ("{variants: 10001}", "5:21", "variants is '10001'", HOW_MANY),
        ("{variants: many}", "5:21", "variants is 'many'", HOW_MANY),
        ("{variants: [6]}", "5:21", "variants is a list, not a single value", HOW_MANY),
        ("{variants: 6, seed: -1}", "5:30", "seed is '-1'", "write a whole number, 0 to 2147483647"),
        ("{variants: 6, stop after: 0}", "5:36", "stop after is '0'",
         "write after how many variants without a better one it ends, 1 to 10000"),
        ("{variants: 6, listen to: parts}", "5:35", "listen to is 'parts'", HOW_MUCH),
        ("{variants: 6, listen to: }", "5:24", "listen to has no value", "write one, or take the line out"),
        ("{variant: 6}", "5:11", "unknown key 'variant' in explore", "did you mean 'variants'?"),
    ],
)  # fmt: skip
def test_a_fault_of_it(problems, written, place, what, remedy):
    assert [(f"{p.line}:{p.column}", p.what, p.remedy) for p in problems(f"{BASE}explore: {written}\n")] == [
        (place, what, remedy)]  # fmt: skip


def test_it_needs_something_that_is_better_and_something_in_doubt(problems):
    found = problems("mix: a.wav\noutput: {name: limiter, plugin: Brick}\nexplore: {variants: 6, seed: x}\n")
    assert [(f"{p.line}:{p.column}", p.what, p.remedy) for p in found] == [
        ("3:1", "'explore' needs 'prefer': nothing says which variants are better", NEEDS_PREFER),
        ("3:1", "'explore' has nothing to search: nothing is varied", "add 'vary', or take 'explore' out"),
        ("3:30", "seed is 'x'", "write a whole number, 0 to 2147483647"),
    ]  # fmt: skip


def test_alternatives_alone_are_something_in_doubt(load):
    chain = load("mix: a.wav\noutput: {name: limiter, any of: [{plugin: A}, {plugin: B}]}\n"
                 "prefer: [crest highest]\nexplore: {variants: 2}\n")  # fmt: skip
    assert chain.explore == Explore(2)


@pytest.mark.parametrize(
    ("written", "values", "between"),
    [
        ("{from: 5 ms, to: 0.1 s, spacing: log}", (Number(5, "ms", "5 ms", True), Number(100, "ms", "100 ms", True)),
         Spacing.LOG),
        ("{from: 0, to: -3 dB}", (Number(0, "dB", "0 dB", True), Number(-3, "dB", "-3 dB", True)), Spacing.LINEAR),
        ("{from: 0 % travel, to: 10 % travel}", (Travel(0, "0 % travel"), Travel(0.1, "10 % travel")), Spacing.LINEAR),
        ("{from: 0 dB, to: 2 dB, steps: 3}", tuple(Number(n, "dB", f"{n} dB") for n in range(3)), None),
    ],
)  # fmt: skip
def test_a_range_may_leave_its_steps_out(load, written, values, between):
    text = BASE.replace("[1 ms, 2 ms]", written) + "explore: {variants: 6}\n"
    (axis,) = load(text).vary
    assert (axis.values, axis.between) == (values, between)


def test_without_it_a_range_needs_its_steps(problems):
    (problem,) = problems(BASE.replace("[1 ms, 2 ms]", "{from: 5 ms, to: 100 ms}"))
    assert problem.what == "'limiter.Release' has no 'steps'"


@pytest.mark.parametrize(
    ("written", "what"),
    [
        ("{from: 0 ms, to: 100 ms, spacing: log}", "'from' is not above 0, which spacing: log needs"),
        ("{from: 5 ms}", "'limiter.Release' has no 'to'"),
        ("{from: 5 ms, to: 5 ms}", "'from' and 'to' are the same"),
        ("{from: 5 ms, to: 6 ms, steps: 1}", "steps is '1'"),
    ],
)
def test_a_range_without_steps_has_the_faults_of_one_with(problems, written, what):
    (problem,) = problems(BASE.replace("[1 ms, 2 ms]", written) + "explore: {variants: 6}\n")
    assert problem.what == what


def test_more_combinations_than_anybody_could_sweep_may_be_explored(load, problems):
    axes = ", ".join(f"limiter.S{n}: {{from: 0, to: 1, steps: 11}}" for n in range(6))
    text = BASE.replace("limiter.Release: [1 ms, 2 ms]", axes)
    assert problems(text)[0].what == "this asks for 1771561 variants"
    assert len(load(f"{text}explore: {{variants: 6}}\n").vary) == 6
