"""A sweep from plan to frames: what is traced, what is kept, what interruptions leave."""

from __future__ import annotations

import gc
import json
import threading
import weakref
from dataclasses import replace
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest

from lightsim.errors import LightsimError, OutputError, PictureError, SceneError
from lightsim.optics.exposure_values import stops
from lightsim.runs.sweep.schedule import plan_sweep
from lightsim.runs.sweep.sweep import SweepStopped, sweep
from lightsim.scene.file.read import load_scene
from lightsim.scene.records import Ambient
from lightsim.scene.settings.quantities import QUANTITIES

SCENES = Path(__file__).parents[2] / "scenes"
ANGLES = "0:90:30"


def names(folder):
    return sorted(path.name for path in (folder / "frames").iterdir())


def test_the_camera_s_paths_are_found_once_and_each_angle_is_traced_once(tracer, scene):
    done = sweep(scene, angles=ANGLES)
    assert len(tracer.views) == 1
    assert [each.lights[0].angle_deg for each in tracer.traced] == [0, 30, 60, 90]
    assert [frame.value for frame in done] == [0, 30, 60, 90]
    assert done[0].image.shape == (80, 120, 3)


def test_the_default_is_every_fifteen_degrees_from_the_lens_to_behind(scene):
    plan = plan_sweep(replace(scene, bodies=False), {}, samples=4)
    assert plan.names == ("angle",)
    assert plan.axes[0].values == tuple(range(0, 181, 15))


def test_a_single_value_of_another_quantity_sets_it_for_all_frames(tracer, scene):
    sweep(scene, angles="20,40", clock=3, distance="400")
    placed = [(it.lights[0].angle_deg, it.lights[0].clock, it.lights[0].distance_mm) for it in tracer.traced]
    assert placed == [(20, 3, 400), (40, 3, 400)]


@pytest.mark.parametrize(
    ("options", "read"),
    [
        ({"clock": "10,12,2"}, lambda light: light.clock),
        ({"distance": [150, 300]}, lambda light: light.distance_mm),
        ({"size": range(20, 61, 20)}, lambda light: light.width_mm),
    ],
)
def test_clock_distance_and_size_sweep_in_the_same_way(tracer, scene, options, read):
    done = sweep(scene, **options)
    assert [read(it.lights[0]) for it in tracer.traced] == [frame.value for frame in done]
    assert len(tracer.views) == 1


def test_another_light_can_be_moved_and_its_highlights_are_the_ones_measured(tracer, two_lights):
    done = sweep(two_lights, angles="10,100", light="fill")
    assert all(it.lights[0] == two_lights.lights[0] for it in tracer.traced)
    assert [frame.light.name for frame in done] == ["fill", "fill"]
    places = [frame.measures.highlight_place_share_median for frame in done]
    # Mirror image in a sphere: it stands sin(t/2) of the radius from the centre (Hecht, Optics, ch. 5).
    assert places == pytest.approx([np.sin(np.radians(5)), np.sin(np.radians(50))], abs=0.04)


def test_three_lists_at_once_are_refused(scene):
    with pytest.raises(LightsimError) as error:
        plan_sweep(scene, {"angle": "0,10", "size": "20,30", "iso": "100,200"}, samples=4)
    assert str(error.value) == (
        "--angles and --size and --iso: found several values in each, allowed in two of them"
    )


def test_a_grid_too_large_is_refused(scene):
    with pytest.raises(LightsimError) as error:
        plan_sweep(scene, {"angle": "0:180:1", "size": "20:60:10"}, samples=4)
    assert str(error.value) == "--angles and --size: found 905 pictures, allowed up to 720"


def test_a_light_that_would_stand_in_the_lens_is_refused_before_anything_is_traced(tracer, scene):
    with pytest.raises(SceneError):
        sweep(scene, angles="0,45", distance=60, size=80)
    assert tracer.views == []


def test_an_unknown_quality_is_answered_with_those_there_are(tracer, scene):
    with pytest.raises(LightsimError, match="quality: found 'best', allowed draft, normal, final"):
        sweep(scene, quality="best")


def test_a_picture_too_large_is_refused_before_anything_is_traced(tracer, scene):
    with pytest.raises(PictureError, match="of memory"):
        sweep(scene, width_px=3_000_000)
    assert tracer.views == []


def test_a_folder_that_cannot_be_made_is_refused_before_anything_is_traced(tracer, scene, tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError):
        sweep(scene, folder=tmp_path / "file")
    assert tracer.views == []


def test_an_interrupted_sweep_goes_on_where_it_stopped(tracer, scene, tmp_path):
    tracer.stop_at = 3
    with pytest.raises(SweepStopped) as stop:
        sweep(scene, angles=ANGLES, folder=tmp_path)
    assert (stop.value.done, stop.value.whole, stop.value.folder) == (2, 4, tmp_path)
    assert names(tmp_path) == ["angle-000.json", "angle-000.png", "angle-030.json", "angle-030.png"]
    tracer.traced.clear()
    tracer.stop_at = None
    resumed = sweep(scene, angles=ANGLES, folder=tmp_path)
    assert [it.lights[0].angle_deg for it in tracer.traced] == [60, 90]
    assert resumed.reused == 2
    whole = sweep(scene, angles=ANGLES)
    for kept, fresh in zip(resumed, whole, strict=True):
        np.testing.assert_array_equal(kept.image, fresh.image)
        assert kept.measures == fresh.measures
        assert (kept.drop, kept.light, kept.notes) == (fresh.drop, fresh.light, fresh.notes)


def test_an_interruption_counts_the_kept_frames_after_it_too(tracer, scene, tmp_path):
    sweep(scene, angles="0,90", folder=tmp_path)
    tracer.stop_at = 4
    with pytest.raises(SweepStopped) as stop:
        sweep(scene, angles="0:90:30", folder=tmp_path)
    assert (stop.value.done, stop.value.whole) == (3, 4)


def test_an_interruption_while_a_frame_is_finished_keeps_that_frame_too(tracer, scene, tmp_path, monkeypatch):
    from lightsim.runs.sweep import sweep as work

    interrupted, make_frame = threading.Event(), work.make_frame

    def slow(*given, **options):
        assert options["values"] != (30.0,) or interrupted.wait(10.0)  # the second frame takes its time
        return make_frame(*given, **options)

    def report(share, words):
        if "60" in words:
            threading.Timer(0.05, interrupted.set).start()
            raise KeyboardInterrupt

    monkeypatch.setattr(work, "make_frame", slow)
    with pytest.raises(SweepStopped) as stop:
        sweep(scene, angles=ANGLES, folder=tmp_path, progress=report)
    assert (stop.value.done, stop.value.whole) == (2, 4)
    assert names(tmp_path) == ["angle-000.json", "angle-000.png", "angle-030.json", "angle-030.png"]


def test_a_frame_that_cannot_be_kept_stops_the_sweep_with_its_own_error(tracer, scene, tmp_path, monkeypatch):
    from lightsim.runs.sweep.save import KeptFrames

    keep = KeptFrames.save

    def full(self, stem, digest, frame):
        if stem == "angle-030":
            raise OutputError("frames: cannot be written (no space left on device)")
        return keep(self, stem, digest, frame)

    monkeypatch.setattr(KeptFrames, "save", full)
    with pytest.raises(OutputError) as error:
        sweep(scene, angles="0:180:30", folder=tmp_path)
    assert str(error.value) == "frames: cannot be written (no space left on device)"
    assert names(tmp_path) == ["angle-000.json", "angle-000.png"]
    assert len(tracer.traced) <= 3  # one more at most was begun meanwhile
    monkeypatch.setattr(KeptFrames, "save", keep)
    assert sweep(scene, angles="0:180:30", folder=tmp_path).reused == 1


def test_progress_never_falls_and_ends_with_the_whole(tracer, scene, tmp_path):
    told = []
    sweep(scene, angles=ANGLES, folder=tmp_path, progress=lambda share, words: told.append(share))
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_layers_of_one_earlier_frame_at_most_are_there_while_a_light_is_traced(tracer, scene, tmp_path):
    drawn, alive = [], []
    trace = tracer.View.trace

    def counted(self, *given, **options):
        gc.collect()
        alive.append(sum(layers() is not None for layers in drawn))
        layers = trace(self, *given, **options)
        drawn.append(weakref.ref(layers))
        return layers

    tracer.View.trace = counted
    sweep(scene, angles="0:180:20", folder=tmp_path)
    assert len(alive) == 10
    assert max(alive) <= 2  # the one kept for the next exposure, and the one in hand


def test_a_finished_sweep_is_not_made_again_unless_forced(tracer, scene, tmp_path):
    sweep(scene, angles=ANGLES, folder=tmp_path)
    tracer.traced.clear()
    tracer.views.clear()
    again = sweep(scene, angles=ANGLES, folder=tmp_path)
    assert (again.reused, tracer.traced, tracer.views) == (4, [], [])
    forced = sweep(scene, angles=ANGLES, folder=tmp_path, force=True)
    assert (forced.reused, len(tracer.traced)) == (0, 4)


def test_more_angles_trace_only_what_is_new(tracer, scene, tmp_path):
    sweep(scene, angles="0,90", folder=tmp_path)
    tracer.traced.clear()
    sweep(scene, angles="0,45,90", folder=tmp_path)
    assert [it.lights[0].angle_deg for it in tracer.traced] == [45]


@pytest.mark.parametrize(
    "change",
    [
        lambda scene: {"scene": replace(scene, ambient=Ambient(illuminance_lx=50.0))},
        lambda scene: {"scene": replace(scene, drops=replace(scene.drops, seed=7))},
        lambda scene: {"scene": replace(scene, exposure=replace(scene.exposure, iso=200.0))},
        lambda scene: {"scene": replace(scene, lights=(replace(scene.lights[0], power=1 / 8),))},
        lambda scene: {"width_px": 96},
        lambda scene: {"quality": "draft"},
        lambda scene: {"exposure": "own"},
        lambda scene: {"clock": 4},
    ],
    ids=["ambient", "drops", "iso", "power", "width", "quality", "own exposure", "clock"],
)
def test_what_changes_the_pictures_makes_them_anew_and_removes_the_old(tracer, scene, tmp_path, change):
    sweep(scene, angles="0,45,90", folder=tmp_path)
    tracer.traced.clear()
    done = sweep(**{"scene": scene, "angles": "0,90", "folder": tmp_path, **change(scene)})
    assert (done.reused, len(tracer.traced)) == (0, 2)
    assert names(tmp_path) == ["angle-000.json", "angle-000.png", "angle-090.json", "angle-090.png"]


def test_words_about_the_scene_do_not_make_the_frames_anew(tracer, scene, tmp_path):
    sweep(scene, angles="0,90", folder=tmp_path)
    done = sweep(replace(scene, about="A note."), angles="0,90", folder=tmp_path)
    assert done.reused == 2


@pytest.mark.parametrize("damage", [b"", b"\x89PNG\r\n\x1a\n broken", None])
def test_a_damaged_or_missing_picture_is_made_anew(tracer, scene, tmp_path, damage):
    sweep(scene, angles="0,90", folder=tmp_path)
    picture = tmp_path / "frames" / "angle-090.png"
    before = picture.read_bytes()
    picture.unlink() if damage is None else picture.write_bytes(damage)
    assert sweep(scene, angles="0,90", folder=tmp_path).reused == 1
    assert picture.read_bytes() == before


@pytest.mark.parametrize("numbers", ["", "[1, 2]", '{"kind": "other"}'])
def test_damaged_numbers_are_made_anew(tracer, scene, tmp_path, numbers):
    sweep(scene, angles="0,90", folder=tmp_path)
    (tmp_path / "frames" / "angle-000.json").write_text(numbers)
    assert sweep(scene, angles="0,90", folder=tmp_path).reused == 1


def test_a_stale_frame_that_someone_retouched_is_left_alone(tracer, scene, tmp_path):
    sweep(scene, angles="0,45,90", folder=tmp_path)
    picture = tmp_path / "frames" / "angle-045.png"
    picture.write_bytes(b"retouched")
    changed = replace(scene, ambient=Ambient(illuminance_lx=50.0))
    sweep(changed, angles="0,90", folder=tmp_path)
    assert picture.read_bytes() == b"retouched"


def test_frames_along_another_quantity_stay(tracer, scene, tmp_path):
    sweep(scene, angles="0,90", folder=tmp_path)
    sweep(scene, clock="3,9", folder=tmp_path)
    assert "angle-090.png" in names(tmp_path)
    assert "clock-09.png" in names(tmp_path)


def test_two_runs_give_equal_bytes(tracer, scene, tmp_path):
    for run in ("one", "two"):
        sweep(scene, angles="0,90", folder=tmp_path / run)
    for name in names(tmp_path / "one"):
        first, second = ((tmp_path / run / "frames" / name).read_bytes() for run in ("one", "two"))
        assert first == second


def test_without_automatic_exposure_the_settings_stand(tracer, scene):
    done = sweep(scene, angles="0,60")
    assert [frame.exposure_stops for frame in done] == [0.0, 0.0]


def test_automatic_exposure_is_one_for_all_and_puts_the_mean_of_the_petals_at_mid_tone(tracer, scene):
    auto = replace(scene, exposure=replace(scene.exposure, auto=True))
    done = sweep(auto, angles="0,60,90")
    assert len({frame.exposure_stops for frame in done}) == 1
    means = [frame.measures.petal_linear for frame in done]
    # Mid-tone 0.18: the output level of the standard output sensitivity (ISO 12232:2006).
    assert stops(np.mean(means) / 0.18) == pytest.approx(0.0, abs=0.05)
    assert max(means) > 1.5 * min(means)


def test_own_exposure_puts_each_petal_at_mid_tone(tracer, scene):
    done = sweep(scene, angles="0,60,90", exposure="own")
    for frame in done:
        assert stops(frame.measures.petal_linear / 0.18) == pytest.approx(0.0, abs=0.01)
    assert len({frame.exposure_stops for frame in done}) == 3


def test_linear_pictures_are_kept_when_asked_for(tracer, scene):
    with_them = sweep(scene, angles="0,60", photographs=True)
    assert with_them[1].photograph.linear.shape == (80, 120, 3)
    assert sweep(scene, angles="0,60")[1].photograph is None


def test_progress_rises_from_nothing_to_all(tracer, scene):
    shares = []
    sweep(scene, angles=ANGLES, progress=lambda share, words: shares.append(share))
    assert shares == sorted(shares)
    assert shares[0] == 0.0
    assert shares[-1] == pytest.approx(1.0)


def test_the_lighting_ratio_is_measured_with_the_key_against_all_the_rest(tracer, two_lights):
    done = sweep(two_lights, angles="30")
    row = done.rows()[0]
    assert row["lighting_ratio"] > 1.0
    assert row["light_angle_deg"] == 30.0
    assert row["picture"] == "frames/angle-030.png"


def test_rows_say_what_was_varied_in_numbers(tracer, scene):
    rows = sweep(scene, drops="1,3", angles="20,40").rows()
    assert [(row["scattered_drops"], row["light_angle_deg"]) for row in rows] == [
        (1, 20), (1, 40), (3, 20), (3, 40),
    ]  # fmt: skip
    keys = set(sweep(scene, angles="20").rows()[0])
    varied_by_light_or_settings = {each.name for each in QUANTITIES.values() if not each.column}
    assert varied_by_light_or_settings == {
        "angle", "clock", "distance", "size", "power", "f_number", "shutter", "iso", "extension",
    }  # fmt: skip
    assert keys >= {"light_angle_deg", "light_clock", "light_distance_mm", "light_width_mm", "light_power"}
    assert keys >= {"f_number", "shutter_s", "iso"}


def test_kept_numbers_can_be_read_by_anyone(tracer, scene, tmp_path):
    sweep(scene, angles="30", folder=tmp_path)
    kept = json.loads((tmp_path / "frames" / "angle-030.json").read_text())
    assert kept["schema_version"] == 2
    assert kept["values"] == [30]
    assert len(kept["measures"]["drops"]) == 4


def test_a_changed_mesh_file_of_the_same_name_makes_the_frames_anew(tracer, scene, tmp_path):
    import trimesh

    flat = trimesh.creation.box((30.0, 30.0, 0.5))
    mesh = replace(scene.petal, form="mesh", file=tmp_path / "petal.ply")
    with_mesh = replace(scene, petal=mesh, drops=replace(scene.drops, count=0))
    flat.export(mesh.file)
    sweep(with_mesh, angles="0,90", folder=tmp_path)
    assert sweep(with_mesh, angles="0,90", folder=tmp_path).reused == 2
    flat.apply_scale((0.9, 1.0, 1.0)).export(mesh.file)
    forget_built_petals()
    assert sweep(with_mesh, angles="0,90", folder=tmp_path).reused == 0


def forget_built_petals():
    """Petals are kept by their records for as long as a process runs; a new process begins without them."""
    module = import_module("lightsim.scene.build")
    for thing in vars(module).values():
        if hasattr(thing, "cache_clear"):
            thing.cache_clear()


def test_the_sheet_says_which_light_moves_and_words_follow_the_light_that_is_measured(tracer, two_lights):
    done = sweep(two_lights, angles="10,170", light="fill")
    assert done.exposure_note.startswith(
        "angle of fill; highlights and shadows are those of fill; one exposure"
    )
    assert "Varied: angle of fill; highlights and shadows are those of fill." in done.notes()
    assert all(frame.measured_light == "fill" for frame in done.sheet_frames())
    moved = sweep(two_lights, angles="10,170")
    assert moved.exposure_note.startswith("angle of flash; one exposure")
    assert all(frame.measured_light == "" for frame in moved.sheet_frames())
    assert sweep(two_lights, f_number="8,16").varied_words == "f-number"


def test_the_usual_angles_are_those_that_can_be_built():
    scene = load_scene(SCENES / "dewy-petal.toml")
    usual = plan_sweep(scene, {}, samples=1)
    assert usual.left_out == (0.0,)
    assert usual.axes[0].values == tuple(range(15, 181, 15))
    asked = plan_sweep(scene, {"angle": "0:180:15"}, samples=1)
    assert (asked.axes[0].values[0], asked.left_out) == (0.0, ())
