"""A year of Mondays, each planned by a forecast that goes wrong the further ahead the more; the open year is the truth.

Two racks and one person; the share of Mondays with a plan, and how many of its coats the weather then spoils if it is
followed blindly: of the plan by the forecast alone, and of that chosen over members drawn from learned errors.
"""

from time import process_time

import numpy as np

from tests.finishing.science.scheduling.test_expectations import a_monday, learned_from


def test_sure_through_a_year_of_mondays():
    begin, learned = process_time(), learned_from()
    weeks = [a_monday(day, learned) for day in range(0, 364, 7)]
    found = [week for week in weeks if week is not None]
    plain, sure = (np.array([week[which] for week in found]).sum(axis=0) for which in (0, 1))
    later = np.array([week[2] for week in found]) / 60
    print(f"\nfigure plan.sure.weeks_pct {100 * len(found) / len(weeks):.0f} %")
    print(f"figure plan.plain.spoilt_pct {100 * plain[1] / plain[0]:.1f} %")
    print(f"figure plan.sure.spoilt_pct {100 * sure[1] / sure[0]:.1f} %")
    print(f"figure plan.sure.later_h {later.mean():.1f} h")
    print(f"figure plan.sure.cpu_s {(process_time() - begin) / len(weeks):.1f} s")
    assert sure[1] <= plain[1]
