"""What importing costs, as CPU time beside numpy's: the least of several processes, since other work only adds."""

import subprocess
import sys

import pytest


def cost(modules, times=5):
    """CPU time [s] of importing modules where numpy is loaded already."""
    code = f"import numpy, time; begin = time.process_time(); import {modules}; print(time.process_time() - begin)"
    return min(float(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120,
                                    check=True).stdout) for _ in range(times))


@pytest.mark.parametrize(("modules", "most"), [
    ("evenfall", 0.15), ("evenfall.units.shown, evenfall.record.file", 0.2), ("evenfall.result.assessment", 0.4),
    ("evenfall.api.assessed", 0.4)])
def test_importing_is_quick(modules, most):
    found = cost(modules)
    print(f"\nimport {modules}: {found:.3f} s of CPU beside numpy (at most {most})")
    assert found <= most
