"""How late unasked reports come, and what hangs on those who did not tell the day."""

from wearstats.report.loosening.sentences import _report_delay
from wearstats.studies.inputs.histories import histories_of
from wearstats.studies.loosening.report_delay import study_report_delay
from wearstats.studies.loosening.study import study_loosening
from wearstats.studies.snapshot import Snapshot


def test_the_demo_tells_how_late_reports_come(demo: Snapshot) -> None:
    study = study_report_delay(demo)
    delay = study.delay
    assert delay.learnt
    ran = histories_of(demo).ran
    unasked = ran["outcome"].eq("failed") & ran["prompted"].eq("unasked")
    assert delay.told == (unasked & ran["day_told"]).sum()
    assert delay.told + delay.untold == unasked.sum()
    # the invented owners write after six days on average, and never later than thirty
    assert 2 / 30.44 < delay.mean_months < 10 / 30.44
    assert study.shape is not None
    assert study.shape_at_once is not None
    assert study.shape_late is not None
    assert abs(study.shape_at_once - study.shape) < 0.1
    document = study.to_dict()
    assert document["status"] == "ok"
    assert document["day_told"] == delay.told


def test_it_is_said_in_full(demo: Snapshot) -> None:
    lines = _report_delay(study_loosening(demo))
    assert "reported unasked the owner told the day of" in lines[0]
    assert "as is taken of the others" in lines[0]
    assert "whether hubs loosen more readily as they age" in lines[1]
