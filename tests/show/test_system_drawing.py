"""The schematic of a plumbing: everything is on it, nothing overprints; text measured with the font's own metrics."""

from __future__ import annotations

import dataclasses
import itertools
import re
from typing import NamedTuple
from xml.etree import ElementTree

import pytest
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath
from random_plumbings import random_car

import fuelsim as fs
from fuelsim.car.layouts import layouts
from fuelsim.data_files import names
from fuelsim.show.flow_grid import Edge, flow_grid
from fuelsim.show.system_drawing import system_drawing

OF_DEMO_CARS = [(car, layout) for car in names("cars") for layout in fs.Car.named(car).layouts()]
SEEDS = range(0, 40)


class Box(NamedTuple):
    """What a text takes on the drawing."""

    text: str
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )


def text_box(element: ElementTree.Element) -> Box:
    size = float(element.get("font-size", "0"))
    font = FontProperties(family="DejaVu Sans", weight=int(element.get("font-weight", "400")))
    text = element.text or ""
    width = TextPath((0, 0), text, size=size, prop=font, usetex=False).get_extents().x1 if text.strip() else 0.0
    x, y = float(element.get("x", "0")), float(element.get("y", "0"))
    left = x - 0.5 * width if element.get("text-anchor") == "middle" else x
    return Box(text, left, y - 0.74 * size, left + width, y + 0.2 * size)


def ways(root: ElementTree.Element) -> list[Box]:
    """Return the straight pieces of every link's way, as thin boxes."""
    pieces = []
    for path in root.iter("{http://www.w3.org/2000/svg}path"):
        if path.get("stroke-linejoin") != "round":
            continue
        corners = [tuple(map(float, pair)) for pair in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path.get("d", ""))]
        for (x, y), (to_x, to_y) in itertools.pairwise(corners):
            assert x == to_x or y == to_y, "every piece is level or vertical"
            pieces.append(Box("way", min(x, to_x) - 1, min(y, to_y) - 1, max(x, to_x) + 1, max(y, to_y) + 1))
    return pieces


def check(drawing: str, system: fs.System) -> None:
    root = ElementTree.fromstring(drawing)
    boxes = [text_box(element) for element in root.iter("{http://www.w3.org/2000/svg}text")]
    width, height = (float(number) for number in root.get("viewBox", "").split()[2:])
    for box in boxes:
        assert 0.0 <= box.left < box.right <= width, f"{box} is on the drawing"
        assert 0.0 <= box.top < box.bottom <= height, f"{box} is on the drawing"
    for one, other in itertools.combinations(boxes, 2):
        assert not one.meets(other), f"{one} and {other} overlap"
    for box, way in itertools.product(boxes, ways(root)):
        assert not box.meets(way), f"a line runs through {box}"
    words = " ".join(box.text for box in boxes)
    plumbing = system.plumbing
    for name in (*plumbing.stations, *(link.name for link in plumbing.links)):
        assert name.replace("_", " ") in words
    assert words.count("manifold") >= len(plumbing.rails)


@pytest.mark.parametrize(("car", "layout"), OF_DEMO_CARS)
def test_everything_is_on_the_drawing_of_every_demo_car_and_no_two_texts_overlap(car, layout):
    system = fs.Car.named(car).system(layout)
    check(system_drawing(system, system.solve(rpm=[900.0, 5400.0], load=[0.0, 1.0]), 1), system)


@pytest.mark.parametrize("seed", SEEDS)
def test_everything_is_on_the_drawing_of_any_plumbing_and_no_two_texts_overlap(seed):
    system = random_car(seed).system("own")
    check(system_drawing(system, system.solve(rpm=[3000.0])), system)


@pytest.mark.parametrize("seed", SEEDS)
def test_lines_of_different_stations_never_lie_on_one_another(seed):
    plumbing = random_car(seed).system("own").plumbing
    edges = [
        Edge(link.name, link.upstream, f"{link.upstream} end" if link.downstream == "manifold" else link.downstream)
        for link in plumbing.links
    ]
    grid = flow_grid(edges, plumbing.vessels, "tank")
    assert set(grid.rows) == set(grid.columns)
    places = {name: (grid.columns[name], grid.rows[name]) for name in grid.rows}
    assert len(set(places.values())) == len(places)
    for (one, track), (other, its) in itertools.combinations(grid.tracks.items(), 2):
        apart = one.bottom < other.top or other.bottom < one.top
        assert one.column != other.column or track != its or apart or one.station == other.station
    for piece, track in grid.tracks.items():
        passed = [
            name
            for name, (column, row) in places.items()
            if column == piece.column and piece.top <= row <= piece.bottom and name != piece.station
        ]
        assert not (track == 0 and passed)


def test_flow_runs_from_left_to_right_and_returns_run_below_what_they_return_from():
    plumbing = fs.Car.named("plover").system("pot").plumbing
    edges = [
        Edge(link.name, link.upstream, link.downstream) for link in plumbing.links if link.downstream != "manifold"
    ]
    grid = flow_grid(edges, plumbing.vessels, "tank")
    order = [grid.columns[name] for name in ("tank", "pot", "tee", "front", "left_rail", "left_rear")]
    assert order == sorted(set(order))
    assert grid.rows["left_rail"] != grid.rows["right_rail"]
    forward = [row for link, row in grid.link_rows.items() if link not in ("rail_end", "return_hose", "overflow")]
    assert grid.link_rows["return_hose"] > max(forward)
    assert grid.link_rows["rail_end"] == grid.link_rows["return_hose"]


def test_lines_carry_length_and_bore_and_rails_and_junctions_their_height():
    system = fs.Car.named("plover").system("pot")
    drawing = system_drawing(system, system.solve(rpm=[5400.0]))
    for words in ("3.6 m", "bore 7.75 mm", "height 0.65 m", "height 0.6 m", "set 300 kPa"):
        assert f">{words}<" in drawing


def test_text_of_a_car_is_escaped():
    runs = [["tank", "strainer", "pump", "filter", "feed", "rail", "rail_regulator", "return_line", "tank"]]
    car = fs.Car.named("finch").with_plumbing("own", runs=runs, title='"><script>alert(1)</script>')
    system = car.system("own")
    drawing = system_drawing(system, system.solve(rpm=[3000.0]))
    assert "<script" not in drawing
    assert ElementTree.fromstring(drawing).get("aria-label") == 'Schematic: "><script>alert(1)</script>'


def test_a_point_without_a_solution_says_so():
    system = fs.Car.named("plover").system("pot")
    run = system.solve(rpm=[5400.0], supply_voltage=[13.0])
    nan = {name: values * float("nan") for name, values in run.flow.items()}
    drawing = system_drawing(system, dataclasses.replace(run, flow=nan))
    assert "unsolved" in drawing


@pytest.mark.parametrize("layout", list(layouts()))
def test_names_of_the_standard_layouts_are_those_of_results(layout):
    system = fs.Car.named("heron").system(layout)
    drawing = system_drawing(system, system.solve(rpm=[5400]))
    for link in system.plumbing.links:
        assert f">{link.name.replace('_', ' ')}<" in drawing
