"""The plan of machines: Graham's bound against the shortest plan found by trying all, nights, and beds."""

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestwright.errors import InputError
from nestwright.parts.machine import Machine
from nestwright.parts.machines import read_machines
from nestwright.parts.nesting import Bed
from nestwright.parts.schedule import Job, fewest_days, list_schedule


def shortest(hours, count):
    """Shortest plan on so many equal machines, by trying every way to deal the jobs."""
    best = math.inf
    for deal in itertools.product(range(count), repeat=len(hours)):
        best = min(best, max(sum(h for h, m in zip(hours, deal, strict=True) if m == k) for k in range(count)))
    return best


@given(st.lists(st.integers(1, 40), min_size=1, max_size=7), st.integers(1, 3))
@settings(max_examples=60, deadline=None)
def test_the_longest_first_keeps_grahams_bound(hours, count):
    # R. L. Graham 1969, doi:10.1137/0117039, theorem 2: at most 4/3 - 1/(3 m) of the shortest
    machines = [Machine(f"m{k}", "printed", 24.0) for k in range(count)]
    jobs = [Job(f"j{n}", "printed", float(h)) for n, h in enumerate(hours)]
    runs = list_schedule(jobs, machines)
    ends = max(24 * run.end_day + run.end for run in runs)
    best = shortest(hours, count)
    assert best <= ends <= (4 / 3 - 1 / (3 * count)) * best + 1e-9
    assert fewest_days(jobs, machines) <= math.ceil(best / 24)
    overlap_free(runs)


def overlap_free(runs):
    for machine in {r.machine for r in runs}:
        mine = sorted((r for r in runs if r.machine == machine), key=lambda r: (r.day, r.start))
        assert all(
            (a.end_day, a.end) <= (b.day, b.start + 1e-9) or a.end_day < b.day for a, b in itertools.pairwise(mine)
        )


@given(st.lists(st.tuples(st.floats(0.1, 30), st.booleans()), min_size=1, max_size=12), st.floats(4, 23))
@settings(max_examples=80, deadline=None)
def test_no_job_is_cut_by_a_night_and_none_is_forgotten(jobs, hours):
    machines = [Machine("a", "hand", hours), Machine("b", "hand", 7.0)]
    made = [Job(f"j{n}", "hand", h, can_stop=stop) for n, (h, stop) in enumerate(jobs)]
    runs = list_schedule(made, machines)
    assert sorted(r.job.name for r in runs) == sorted(j.name for j in made)
    overlap_free(runs)
    length = {m.name: m.hours for m in machines}
    for run in runs:
        assert 0 <= run.start <= length[run.machine] + 1e-9
        assert run.end <= length[run.machine] + 1e-9
        if run.overnight:
            assert run.job.hours > length[run.machine]
            assert run.start == 0
        elif not run.job.can_stop:
            assert run.day == run.end_day
            assert run.end - run.start == pytest.approx(run.job.hours)
        else:
            worked = (run.end_day - run.day) * length[run.machine] + run.end - run.start
            assert worked == pytest.approx(run.job.hours)
    assert fewest_days(made, machines) <= max(r.end_day for r in runs) + 1


def test_what_is_too_tall_goes_to_the_printer_that_takes_it():
    low, tall = (Machine(n, "printed", 20.0, Bed(n, 0.2, 0.2), h) for n, h in (("low", 0.1), ("tall", 0.3)))
    runs = list_schedule([Job("bell", "printed", 9.0, size=(0.1, 0.1, 0.2))] * 3, [low, tall])
    assert {r.machine for r in runs} == {"tall"}
    assert [(r.day, r.start) for r in runs] == [(0, 0.0), (0, 9.0), (1, 0.0)]
    with pytest.raises(InputError, match="no machine does this"):
        list_schedule([Job("bell", "printed", 9.0, size=(0.3, 0.1, 0.2))], [low, tall])


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ('[[machine]]\nname = "a"\nway = "laser"\nhours = 6\n', 2, "a laser has a bed"),
        ('[[machine]]\nname = "a"\nway = "lasr"\nhours = 6\n', 4, "did you mean 'laser'"),
        ('[[machine]]\nname = "a"\nway = "hand"\nhours = 30\n', 5, "at most 24"),
        ('[[machine]]\nname = "a"\nway = "hand"\nhour = 3\n', 5, "unknown key"),
        ('[[machine]]\nname = "a"\nway = "printed"\nhours = 3\nbed = ["1 mm", "2 mm"]\n', 2, "width, depth and height"),
        ('[rates]\n"laser.strt" = 3\n', 3, "did you mean 'laser.start'"),
    ],
)
def test_faults_of_the_list_have_their_line(tmp_path, text, line, says):
    file = tmp_path / "machines.toml"
    file.write_text(f"format = 1\n{text}")
    with pytest.raises(InputError, match=says) as caught:
        read_machines(file)
    assert line in [one.line for one in caught.value.errors]
