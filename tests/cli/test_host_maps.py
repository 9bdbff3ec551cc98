"""Host maps from the disk: what they extend is found from their own folder."""

import pytest

from bridge.cli.host_maps import load_host_map
from bridge.errors import PlanError
from bridge.store import shipped

HEAD = "pulsebridge_host: 1\n"


def test_every_shipped_map_loads_and_the_northern_crane_is_the_other_one_elsewhere():
    folder = shipped("examples/hosts")
    maps = {path.name: load_host_map(path) for path in folder.glob("*.yaml")}
    assert len(maps) >= 6
    south, north = maps["harbour-crane.yaml"], maps["harbour-crane-north.yaml"]
    assert (south.says, south.hears) == (north.says, north.hears)
    assert south.send_to != north.send_to


def test_maps_are_found_from_the_folder_of_the_map_that_names_them(tmp_path):
    (tmp_path / "deep").mkdir()
    (tmp_path / "a.yaml").write_text(f"{HEAD}name: a\nextends: deep/b.yaml\n")
    (tmp_path / "deep" / "b.yaml").write_text(f"{HEAD}name: b\nextends: c.yaml\n")
    (tmp_path / "deep" / "c.yaml").write_text(f"{HEAD}name: c\npace: 9ms\n")
    host = load_host_map(tmp_path / "a.yaml")
    assert (host.name, float(host.pace)) == ("a", 0.009)


def test_a_circle_and_a_missing_file_are_refused_at_the_line_that_names_them(tmp_path):
    (tmp_path / "a.yaml").write_text(f"{HEAD}extends: b.yaml\n")
    (tmp_path / "b.yaml").write_text(f"{HEAD}name: b\nextends: a.yaml\n")
    with pytest.raises(PlanError, match="circle") as caught:
        load_host_map(tmp_path / "a.yaml")
    assert (caught.value.where.file, caught.value.where.line) == (str(tmp_path / "b.yaml"), 3)
    (tmp_path / "b.yaml").unlink()
    with pytest.raises(PlanError, match="cannot be read") as caught:
        load_host_map(tmp_path / "a.yaml")
    assert (caught.value.where.file, caught.value.where.line) == (str(tmp_path / "a.yaml"), 2)
