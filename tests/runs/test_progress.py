"""Progress of a job that is made of parts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.runs.job import JobProgress


@given(
    st.lists(
        st.tuples(st.floats(0.01, 10), st.lists(st.floats(-0.5, 1.5), max_size=4)), min_size=1, max_size=6
    )
)
def test_progress_stays_between_nothing_and_all_and_ends_with_all(parts):
    shown = []
    job = JobProgress(lambda share, words: shown.append(share), sum(weight for weight, _ in parts))
    for weight, shares in parts:
        part = job.part(weight, "work")
        for share in sorted(shares):
            part(share)
        part(1.0)
    job.finish()
    assert all(0.0 <= share <= 1.0 for share in shown)
    assert shown == pytest.approx(sorted(shown))
    assert shown[-1] == 1.0
