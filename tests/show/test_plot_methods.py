"""Drawing where people look for it: methods of fuels, pumps, runs, systems and drives."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

import fuelsim as fs
from fuelsim.show import style
from fuelsim.show.animation import Animation, growing
from fuelsim.studies.system_curve import system_curve
from fuelsim.transients.schedule import Schedule, typical_phase


@pytest.fixture(scope="module")
def finch():
    return fs.Car.named("finch")


@pytest.fixture
def rising():
    fig, axes = style.figure(width=2.0, height=1.5)
    axes[0, 0].plot([0.0, 1.0, 2.0, 3.0], [0.0, 2.0, 1.0, 3.0])
    axes[0, 0].set_xlim(0.0, 3.0)
    return fig, axes[0, 0]


def test_a_frame_shows_each_line_up_to_its_moment_and_axes_that_stand(rising):
    fig, axis = rising
    ends = axis.get_ylim()
    moving = Animation(fig, [axis], [1.0, 3.0])
    moving.show_until(1.0)
    (line,) = axis.get_lines()
    assert line.get_xdata().tolist() == [0.0, 1.0]
    assert axis.get_ylim() == ends
    moving.show_until(np.inf)
    assert line.get_xdata().tolist() == [0.0, 1.0, 2.0, 3.0]


def test_an_animation_is_saved_as_gif_and_html_and_as_nothing_else(rising, tmp_path):
    moving = growing(rising[0], [rising[1]], frames=3)
    with Image.open(moving.save(tmp_path / "rising.gif")) as image:
        assert image.n_frames == 3
    page = moving.save(tmp_path / "rising.html").read_text(encoding="utf-8")
    assert page == moving._repr_html_()
    assert page.count("data:image/png;base64") == 3
    with pytest.raises(fs.InputError, match="gif"):
        moving.save(tmp_path / "rising.mp4")


def test_a_drive_and_its_animation_draw_other_drives_beside_it(finch):
    schedule = Schedule.of([typical_phase("jam", "2 min", finch)])
    drives = [fs.drive(finch, layout, schedule, output_step="1 min") for layout in ("return", "returnless_tank")]
    names = [text.get_text() for text in drives[0].plot(*drives[1:]).axes[0].get_legend().get_texts()]
    assert {"return from rail", "returnless, regulator at tank"} <= set(names)
    assert len(drives[0].animate(*drives[1:]).moments) > 10


def test_the_operating_point_lies_on_the_pump_s_curve_and_on_the_system_curve(finch):
    """Two curves of textbooks cross where the pump works."""
    curve = system_curve(finch.system("return"), finch.pump, 3000.0)
    along = np.interp(curve.operating.flow, curve.flow, curve.rise)
    assert curve.operating.rise == pytest.approx(along, rel=2e-3)
    # Beyond the flow that the engine takes the regulator holds the pressure: the curve is flat there.
    flat = curve.rise[curve.flow > curve.operating.flow * 0.95]
    assert np.ptp(flat) < 0.1 * flat.mean()


def test_a_pump_of_another_system_is_refused(finch):
    with pytest.raises(fs.InputError, match="another pump"):
        fs.Pump.named("in_tank_410").plot(finch.system("return"))


def test_a_system_draws_itself_and_is_saved_as_svg(finch, tmp_path):
    drawing = finch.system("return").draw()
    assert drawing._repr_svg_().startswith("<svg")
    assert drawing.save(tmp_path / "finch.svg").read_text(encoding="utf-8") == drawing.svg
    with pytest.raises(fs.InputError, match="another layout"):
        finch.system("return").draw(finch.system("returnless_tank").solve(rpm=800, load=0.0))
    with pytest.raises(fs.InputError, match="svg"):
        drawing.save(tmp_path / "finch.png")


def test_a_run_draws_the_point_asked_for(finch):
    run = finch.system("return").solve(rpm=[800.0, 5000.0], load=[0.0, 1.0])
    last = run.plot(point=1).axes[0].get_lines()[0].get_ydata()[-1]
    assert last == pytest.approx(run.gauge_pressure["rail"][1] / 1e3)
    with pytest.raises(fs.InputError, match="0 to 1"):
        run.plot(point=2)
