"""From two measurements to readings, and from curves to files."""

from __future__ import annotations

import csv
from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.inks.read_inks import KNOTS
from sentinel.core.inks.readings import readings_of
from sentinel.core.measurement import Measurement
from sentinel.core.measurement.cgats import read
from sentinel.core.recalibration.curves import Curve, Origin, curves_cgats, curves_csv, straight_curve
from tests.unit.core.builders import measurement

DEVICE = [[0, 0, 0, 0], [50, 0, 0, 0], [100, 0, 0, 0], [50, 0, 0, 0]]
ORIGIN = Origin(214, "north/satin-240", "monday.txt", "satin aim")
CURVES = (Curve("C", np.round(100 * (KNOTS / 100) ** 1.1, 2), moved=1.0), straight_curve("6CLR_5"))


def spectral(levels: list[float], order: list[int]) -> Measurement:
    """Grey patches of these reflectances, in an order."""
    return measurement(
        device=[DEVICE[row] for row in order], reflectance=np.outer([levels[row] for row in order], np.ones(36))
    )


def test_spectra_of_replicates_are_averaged_in_the_order_of_the_aim() -> None:
    found = readings_of(spectral([0.9, 0.5, 0.2, 0.4], [0, 1, 2, 3]), spectral([0.8, 0.3, 0.1, 0.5], [3, 2, 1, 0]))
    assert found.spectra is not None
    assert found.device.tolist() == DEVICE[:3]
    assert found.spectra.aim[:, 0] == pytest.approx([0.9, 0.45, 0.2])
    assert found.spectra.reading[:, 0] == pytest.approx([0.8, 0.4, 0.1])


def test_reading_with_a_missing_band_counts_for_nothing() -> None:
    aim, sample = spectral([0.9, 0.5, 0.2, 0.4], [0, 1, 2, 3]), spectral([0.8, 0.3, 0.1, 0.5], [0, 1, 2, 3])
    assert sample.reflectance is not None
    sample.reflectance[1, 4] = np.nan
    found = readings_of(aim, sample)
    assert found.spectra is not None
    assert found.spectra.reading[1, 0] == pytest.approx(0.5)


def test_spectra_are_left_where_the_two_were_read_at_other_wavelengths() -> None:
    aim = spectral([0.9, 0.5, 0.2, 0.4], [0, 1, 2, 3])
    assert aim.wavelengths is not None
    assert readings_of(aim, replace(aim, wavelengths=aim.wavelengths + 10)).spectra is None


def test_channels_take_the_names_of_the_printers_inks() -> None:
    lab = [[95, 0, 0], [75, -20, -27], [55, -36, -49], [75, -20, -27]]
    aim = measurement(device=DEVICE, inks=("4CLR_1", "4CLR_2", "4CLR_3", "4CLR_4"), lab=lab)
    assert readings_of(aim, aim, ink_names=("C", "M", "Y", "O")).inks == ("C", "M", "Y", "O")


def test_cgats_text_of_curves_reads_back_equal_and_leaves_the_signature_blank() -> None:
    document = read(curves_cgats(CURVES, ORIGIN))
    table = document.tables[0]
    assert document.assumptions == ()
    assert table.number["ASKED_PERCENT"].tolist() == KNOTS.tolist()
    assert table.number["SENT_C"].tolist() == CURVES[0].sent.tolist()
    assert table.number["SENT_6CLR_5"].tolist() == KNOTS.tolist()
    assert table.keywords["APPROVED_BY"] == ""


@pytest.mark.parametrize("text", [curves_csv(CURVES, ORIGIN), curves_cgats(CURVES, ORIGIN).decode()])
@pytest.mark.parametrize(
    "said",
    [
        "the ink amount the job asks for",
        "what to send",
        "applied before it",
        "check 214 of north/satin-240",
        "monday.txt",
        "satin aim",
        "wrong stock, a wet chart, blocked nozzles and a misreading",
        "a person has signed",
        "# approved by:\n",
    ],
)
def test_files_say_direction_ground_origin_and_that_a_person_signs(text: str, said: str) -> None:
    assert said in text


def test_csv_has_a_row_for_every_five_per_cent() -> None:
    lines = [line for line in curves_csv(CURVES, ORIGIN).splitlines() if not line.startswith("#")]
    head, *rows = csv.reader(lines)
    assert head == ["asked_percent", "C_sent_percent", "6CLR_5_sent_percent"]
    assert [float(row[0]) for row in rows] == KNOTS.tolist()
    assert [float(row[1]) for row in rows] == CURVES[0].sent.tolist()


def test_a_line_break_in_a_name_stays_within_its_comment() -> None:
    broken = replace(ORIGIN, file="monday\n100,0,0.txt")
    lines = [line for line in curves_csv(CURVES, broken).splitlines() if not line.startswith("#")]
    assert len(lines) == 1 + len(KNOTS)
    assert read(curves_cgats(CURVES, broken)).tables[0].rows == len(KNOTS)
