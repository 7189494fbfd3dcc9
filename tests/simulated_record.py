"""A simulated tunnel as a record."""

from evenfall.record.file import parse_record, plain_text
from evenfall.record.model import to_plain

from .conftest import GRID


def record_of(tunnel, **sections):
    """The tunnel with its test as a checked record.

    Parameters
    ----------
    tunnel : simulate.Tunnel
        The tunnel.
    sections : dict
        More tables of the record, plain, such as supply.

    Returns
    -------
    Record
    """
    plain = to_plain(parse_record(GRID))
    plain["floor"] = {"width": f"{tunnel.width:.6f} m", "length": f"{tunnel.length:.6f} m"}
    plain["heads"] = {"flow": f"{tunnel.nominal_flow:.4f} L/h", "wetted_diameter": f"{2 * tunnel.nominal_radius:.4f} m"}
    plain["lines"] = [
        {"name": f"line {line}", "x": f"{tunnel.heads[on][0, 0]:.6f} m",
         "heads_at": [f"{y:.6f} m" for y in tunnel.heads[on][:, 1]]}
        for line in range(int(tunnel.line_of.max()) + 1) for on in [tunnel.line_of == line]]
    plain["cans"] = {"reads": "volume", "unit": "mL", "opening_area": f"{tunnel.can_area} cm2", "points": [
        {"x": f"{x:.6f} m", "y": f"{y:.6f} m", "catch": round(float(depth) * tunnel.can_area / 10)}
        for (x, y), depth in zip(tunnel.cans, tunnel.depth, strict=True)]}
    plain["run"] = {"duration": f"{tunnel.minutes:.4f} min"}
    if len(plain["lines"]) > 1:
        plain["run"]["lines"] = "together"
    return parse_record(plain_text({**plain, **sections}))
