"""Photographs of a test: what is refused, what is taken out, and where they go with the record."""

from __future__ import annotations

import hashlib
import io
import re
import sqlite3
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from PIL import Image

from burnerlab.bench.record import BenchTest, Photograph, add_test, backup, check, entry, open_record
from burnerlab.bench.record.photographs import (
    LARGEST_PHOTOGRAPH,
    LONGEST_SIDE,
    bare_picture,
    folder_of,
    keep_photograph,
    photograph_bytes,
)
from burnerlab.cli import main
from burnerlab.page.bench_state import Bench
from burnerlab.page.form import RefusedError
from burnerlab.page.photograph_pages import read_body
from burnerlab.tables.problem import UserError

ORIGIN = {"origin": "http://127.0.0.1:8741"}
GPS, ORIENTATION, MAKE, LATITUDE_REF, LATITUDE = (
    0x8825,
    0x0112,
    0x010F,
    1,
    2,
)  # tags of Exif 2.32, tables 4 and 12


def picture(kind: str = "JPEG", size: tuple[int, int] = (64, 40)) -> bytes:
    """A picture as a phone writes it: turned on its side, with its place and its maker."""
    image = Image.new("RGB", size, (200, 30, 30))
    exif = Image.Exif()
    exif[ORIENTATION], exif[MAKE] = 6, "Secret Phone"
    exif[GPS] = {LATITUDE_REF: "N", LATITUDE: (52.0, 31.0, 12.25)}
    made = io.BytesIO()
    image.save(made, kind, exif=exif.tobytes(), comment=b"at home") if kind == "JPEG" else image.save(
        made, kind, exif=exif.tobytes()
    )
    return made.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_place_and_device_are_gone_and_the_picture_stands_upright(kind: str) -> None:
    data = picture(kind)
    with Image.open(io.BytesIO(data)) as before:
        assert before.getexif().get_ifd(GPS)
    bare = bare_picture(data)
    with Image.open(io.BytesIO(bare)) as after:
        assert after.format == "JPEG"
        assert dict(after.getexif()) == {}
        assert after.size == (40, 64)  # orientation 6: a quarter turn
        assert set(after.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    for word in (b"Exif", b"Secret", b"GPS", b"at home", b"http"):
        assert word not in bare


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "is no photograph"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "is no photograph"),
        (b"GIF89a" + b"\0" * 40, "is no photograph"),
        (b"%PDF-1.7", "is no photograph"),
        (b"\xff\xd8\xff" + b"\0" * 100, "damaged"),
        (picture()[: len(picture()) // 2], "damaged"),
        (b"\x89PNG\r\n\x1a\n" + picture(), "damaged"),
        (picture() + b"\0" * LARGEST_PHOTOGRAPH, "larger than 12 MiB"),
    ],
)
def test_what_is_no_photograph_is_refused(data: bytes, why: str) -> None:
    with pytest.raises(UserError, match=why):
        bare_picture(data)


def test_a_photograph_that_cannot_be_written_is_said_in_words(tmp_path: Path) -> None:
    """Where its folder should be, there is a file; or the disk gives no folder: a reason, and no defect."""
    record = tmp_path / "bench.sqlite"
    folder_of(record).write_text("in the way", encoding="utf-8")
    with pytest.raises(UserError, match=r"could not be written .file exists."):
        keep_photograph(record, picture(), "flame")


def test_a_picture_of_too_many_pixels_is_not_drawn() -> None:
    made = io.BytesIO()
    Image.new("1", (9000, 9000)).save(made, "PNG")
    assert len(made.getvalue()) < 1 << 20
    with pytest.raises(UserError, match="million pixels"):
        bare_picture(made.getvalue())
    with Image.open(io.BytesIO(bare_picture(picture(size=(3000, 20))))) as small:
        assert max(small.size) == LONGEST_SIDE


BODY = b'--x\r\nContent-Disposition: form-data; name="a"\r\n\r\n1\r\n--x--\r\n'


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        (b"", "multipart/form-data; boundary=x"),
        (BODY, "multipart/form-data"),
        (BODY, "application/x-www-form-urlencoded"),
        (BODY[:-8], "multipart/form-data; boundary=x"),
        (BODY.replace(b"--x--", BODY), "multipart/form-data; boundary=x"),
        (BODY.replace(b"name=", b"nome="), "multipart/form-data; boundary=x"),
        (BODY.replace(b"1\r\n", b"1" * 3000 + b"\r\n"), "multipart/form-data; boundary=x"),
        (BODY[:-7] * 300 + b"--x--\r\n", "multipart/form-data; boundary=x"),
        (BODY.replace(b"1\r\n", b"\xff\r\n"), "multipart/form-data; boundary=x"),
    ],
)
def test_a_body_that_is_no_form_of_ours_is_refused(body: bytes, kind: str) -> None:
    assert read_body(BODY, "multipart/form-data; boundary=x").texts == {"a": "1"}
    with pytest.raises(RefusedError):
        read_body(body, kind)


@pytest.fixture
def send(client: Any, readings: dict[str, str]) -> Callable[..., Any]:
    def sent(data: bytes, subject: str = "flame", name: str = "../../etc/x.php", **more: str) -> Any:
        text = client.get("/photographs", params=readings).text
        found = re.findall(
            r'<input type="hidden" name="([^"]*)" value="([^"]*)">', text[text.rindex("<form") :]
        )
        texts = dict(readings) | {key: unescape(value) for key, value in found} | {"subject": subject} | more
        return client.post("/photograph", data=texts, files={"photograph": (name, data)}, headers=ORIGIN)

    return sent


def test_from_the_phone_to_the_entry_the_export_and_the_backup(
    send: Callable[..., Any],
    client: Any,
    bench: Bench,
    form_of_page: Callable[[str], dict[str, str]],
    tmp_path: Path,
) -> None:
    answer = send(picture())
    assert answer.status_code == 303, answer.text
    kept = [path.name for path in folder_of(bench.file).iterdir()]
    data = (folder_of(bench.file) / kept[0]).read_bytes()
    sha256 = hashlib.sha256(data).hexdigest()
    assert kept == [f"{sha256}.jpg"]  # no name of the client's
    page = client.get(answer.headers["location"]).text
    assert 'value="flame" required checked' in page  # of the page that leads here
    assert f'src="/photograph?sha256={sha256}"' in page
    without = re.findall(r'href="([^"]*)">Leave out photograph 1: flame</a>', page)
    assert sha256 not in client.get(unescape(without[0])).text
    shown = client.get("/photograph", params={"sha256": sha256})
    assert (shown.content, shown.headers["content-type"]) == (data, "image/jpeg")
    assert shown.headers["x-content-type-options"] == "nosniff"
    flame = client.get("/flame", params=form_of_page(page[: page.index('<form method="post"')]))
    again = client.get("/photographs", params=form_of_page(flame.text))  # the forms carry it, there and back
    assert f'src="/photograph?sha256={sha256}"' in again.text
    save = client.get("/save", params=form_of_page(flame.text) | {"see-lift": "no"}).text
    assert "<dt>Photographs</dt><dd>flame</dd>" in save
    saved = client.post("/save", data=form_of_page(save), headers=ORIGIN)
    assert saved.status_code == 303, saved.text
    assert sha256 in client.get(saved.headers["location"]).text
    sheet = client.get("/sheet", params={"serial": "C-0042"}).text
    assert "nothing is judged: flame" in sheet
    assert f'src="/photograph?sha256={sha256}"' in sheet
    uid = re.search(r"uid=([0-9a-f]{32})", saved.headers["location"])
    assert uid is not None
    copy, out, other = tmp_path / "copy.sqlite", tmp_path / "out.json", tmp_path / "other.sqlite"
    with open_record(bench.file) as record:
        assert entry(record, uid[1]).test.photographs == (Photograph(sha256=sha256, subject="flame"),)
        backup(record, copy)
        assert check(record).is_whole
    run = CliRunner().invoke(main, ["record", "export", "--out", str(out), "--file", str(bench.file)])
    assert run.exit_code == 0, run.output
    run = CliRunner().invoke(main, ["record", "import", str(out), "--file", str(other)])
    assert run.exit_code == 0, run.output
    for file in (copy, out, other):
        assert photograph_bytes(file, sha256) == data
    with open_record(other) as record:
        assert entry(record, uid[1]).test.photographs[0].sha256 == sha256
    (folder_of(bench.file) / kept[0]).write_bytes(b"another")
    assert client.get("/photograph", params={"sha256": sha256}).status_code == 404
    with open_record(bench.file) as record:
        assert "photograph" in check(record).faults[0]


def test_the_guard_takes_this_one_form_and_no_other(
    send: Callable[..., Any], client: Any, bench: Bench
) -> None:
    assert send(b"<html>").status_code == 422
    assert send(picture(), subject="person").status_code == 422
    assert "Choose what it shows" in send(picture(), subject="").text  # none is chosen before the user does
    assert send(picture(), token="x").status_code == 403
    files = {"photograph": ("x.jpg", picture())}
    assert client.post("/photograph", files=files).status_code == 403  # without the origin of the bench
    assert client.post("/save", files=files, headers=ORIGIN).status_code == 415
    assert client.post("/photograph", data={"a": "b"}, headers=ORIGIN).status_code == 415
    large = {"photograph": ("x.jpg", b"\0" * (LARGEST_PHOTOGRAPH + (1 << 20)))}
    assert client.post("/photograph", files=large, headers=ORIGIN).status_code == 413
    for name in ("", "../bench.sqlite", "0" * 64, "0" * 63 + "/"):
        assert client.get("/photograph", params={"sha256": name}).status_code == 404
    assert not folder_of(bench.file).exists()


def test_a_record_before_photographs_opens_with_its_hashes(tmp_path: Path) -> None:
    """An entry without photographs has the hash it would have had before there were any."""
    file = tmp_path / "old.sqlite"
    with open_record(file) as record:
        made = add_test(record, BenchTest(serial="C-1", model="range", tester="t"))
    bare = sqlite3.connect(file)
    for table in ("photographs", "plan_entries"):
        bare.execute(f"DROP TABLE {table}")
    for column in ("rating_basis", "region"):
        bare.execute(f"ALTER TABLE tests DROP COLUMN {column}")
    bare.execute("DROP INDEX tests_by_unit")
    bare.execute("CREATE INDEX tests_by_serial ON tests (serial, tested_at, id)")
    bare.execute("PRAGMA user_version = 4")
    bare.commit()
    bare.close()
    with open_record(file) as record:
        again = entry(record, made.uid)
        assert (again.sha256, again.test.photographs, again.test.plan_entries) == (made.sha256, (), ())
        assert check(record).is_whole
