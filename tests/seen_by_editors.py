"""What editors and type checkers see of the public names: read by mypy at the gate, never run.

An ignored error that is none is an error itself, so the lines at the end say what must be refused.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from typing import Any

    from numpy import float64
    from numpy.typing import NDArray
    from typing_extensions import assert_type

    import gritfuncs as gf

    assert_type(gf.wheel_speed(200.0, 2100), float)
    assert_type(gf.wheel_speed([200.0, 190.0], 2100), NDArray[float64])
    assert_type(gf.mean_grit_size("D126"), float)
    assert_type(gf.read_trial("readings.csv"), gf.Trial)
    assert_type(gf.read_trial("readings.csv").knee.verdict, str)
    assert_type(gf.read_trial("readings.csv").as_dict(), dict[str, Any])
    assert_type(gf.catalogue["wheel_speed"].sheet_name, str)

    gf.wheel_speed("200", 2100)  # type: ignore[arg-type]
    gf.no_such_function  # type: ignore[attr-defined]  # noqa: B018
