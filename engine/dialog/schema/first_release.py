"""The dialogs of the first release, which did not say yet what their names mean.

Scripts and facts that were stored then are brought up with this. Nothing is ever added to it: later dialogs say it
themselves.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class FirstDialog:
    """Phase; the names, with blanks between, each of which is what its role is called now; and roles that are a yes
    or no, each with its option."""

    phase: str
    names: str
    options: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    @property
    def records(self) -> dict[str, object]:
        """The records that its file would have had."""
        return {
            **{name: name for name in self.names.split()},
            **{role: dict(one) for role, one in self.options.items()},
        }


FIRST_DIALOGS: Mapping[str, FirstDialog] = {
    "ready-check": FirstDialog(
        "readiness",
        "rows",
    ),
    "set-up": FirstDialog(
        "set-up",
        "rows spacing dial drive product label_low label_high rate speed course catch_by tare scale_step "
        "density target target_tube",
    ),
    "test-run": FirstDialog(
        "calibration",
        "rows spacing dial drive product label_low label_high rate speed course catch_by tare scale_step "
        "density target target_tube tolerance dial_setting catch_mass catch_volume course_time "
        "true_speed again net row_rate expected_rate expected_low expected_high verdict next_setting "
        "error probability drive_factor common_off common_shift odd_row",
    ),
    "shift": FirstDialog(
        "shift",
        "rows spacing rate speed planned loaded in_use willing longest bag meter product lot field "
        "field_area course target target_tube tare tolerance label_low label_high dial_setting left_over",
    ),
    "put-away": FirstDialog(
        "storage",
        "left_over put_back gap",
        {"own_container": {"of": "container", "is": "own"}, "locked": {"of": "locked", "is": "safe"}},
    ),
}
