"""YAML 1.2 core: what is read as what, what is refused, and on which line things stand."""

from __future__ import annotations

from pathlib import Path

import pytest

from fitment.errors import ProfileError
from fitment.profile.yaml_core import MAX_BYTES, load_file, load_text


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("~", None), ("null", None), ("Null", None), ("NULL", None), ("", None), ("nULL", "nULL"),
        ("true", True), ("True", True), ("TRUE", True), ("false", False), ("tRUE", "tRUE"),
        ("on", "on"), ("off", "off"), ("yes", "yes"), ("no", "no"), ("y", "y"), ("N", "N"),
        ("12", 12), ("-12", -12), ("+12", 12), ("0", 0), ("012", 12), ("1_000", "1_000"),
        ("1.5", 1.5), (".5", 0.5), ("-1.", -1.0), ("1e3", 1000.0), ("1.5E-1", 0.15), ("1.2.3", "1.2.3"),
        ("12:30", "12:30"), ("2024-01-01", "2024-01-01"), ("205/70R15", "205/70R15"), ("5x114.3", "5x114.3"),
        ('"12"', "12"), ("'true'", "true"), ("=", "="), ("<<", "<<"), ("4 1/2 in", "4 1/2 in"),
    ],
)  # fmt: skip
def test_scalars(text: str, value: object) -> None:
    found = load_text(f"key: {text}").data["key"]
    assert found == value
    assert type(found) is type(value)


def test_lines() -> None:
    document = load_text("a: 1\nb:\n  c: [1,\n      {d: 2}]\n  e:\n    - 5\n    - f: 6\n")
    assert document.data == {"a": 1, "b": {"c": [1, {"d": 2}], "e": [5, {"f": 6}]}}
    expected = {
        (): 1, ("a",): 1, ("b",): 2, ("b", "c"): 3, ("b", "c", 0): 3, ("b", "c", 1): 4, ("b", "c", 1, "d"): 4,
        ("b", "e"): 5, ("b", "e", 0): 6, ("b", "e", 1): 7, ("b", "e", 1, "f"): 7,
    }  # fmt: skip
    assert document.lines == expected
    assert document.line(("b", "c", 1, "nothing", "here")) == 4


def test_aliases_are_written_out_and_stand_where_they_were_written() -> None:
    document = load_text("a: &x {b: 1}\nc: *x\n")
    assert document.data == {"a": {"b": 1}, "c": {"b": 1}}
    assert document.data["a"] is not document.data["c"]
    assert document.line(("c",)) == 2
    assert document.line(("c", "b")) == 1


def test_no_merge_key() -> None:
    assert load_text("a: &x {b: 1}\nc: {<<: *x, d: 2}").data["c"] == {"<<": {"b": 1}, "d": 2}


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("a: 1\nb: 2\na: 3\n", 3, r'a: key "a" stands here and on line 1'),
        ("a: {b: 1, c: 2, b: 3}", 1, r'a\.b: key "b" stands here and on line 1'),
        ("a: 1\n2: b", 2, r"2 stands where a key is expected; keys are texts: put it in quotes"),
        ("true: b", 1, "put it in quotes"),
        ("null: b", 1, "put it in quotes"),
        ("? [a]\n: 1", 1, "a list or a map stands where a key is expected"),
        ("a: !!int '3'", 1, "tag !!int is not read"),
        ("a: !!python/object:os.system x", 1, "tag !!python/object:os.system is not read"),
        ("a: ! x", 1, "tag ! is not read"),
        ("a: 1\n---\nb: 2", 2, "a second document starts here"),
        ("a: 0x1F", 1, "octal or hexadecimal; write the number in decimal"),
        ("a: 0o17", 1, "octal or hexadecimal"),
        ("a:\n  - .inf", 2, r"a\[0\]: \.inf is not a finite number"),
        ("a: -.INF", 1, "not a finite number"),
        ("a: .nan", 1, "not a finite number"),
        ("a: 1e999", 1, "too large for a number"),
        ("a: " + "9" * 5000, 1, "has 5000 digits"),
        ("a: *b", 1, r"alias \*b has no anchor &b before it"),
        ("a: &abc 1\nb: *abd", 2, r'Did you mean "abc"'),
        ("a: &a [1, *a]", 1, r"alias \*a stands inside its own anchor"),
        ("a: " + "[" * 50, 1, "nested deeper than 40 levels"),
        ("- " * 50 + "x", 1, "nested deeper than 40 levels"),
        ("a:\n\tb: 1", 2, "a tab stands here; indent with spaces"),
        ("a: 1\n b: 2", 2, "colon is not expected here; check the indentation"),
        ("a: b: c", 1, "colon is not expected here"),
        ("a:\n    b: 1\n  c: 2", 3, "indentation does not match"),
        ("a: [1, 2\nb: 3", 2, "a comma is missing, or a bracket is not closed"),
        ("a: 1\nb: 'x", 2, "close the quote"),
        ('a: "\\q"', 1, "use single quotes"),
        ("a: @x", 1, "put the text in quotes"),
        ("a: 1\nb", 2, "a `key: value` is expected here"),
        ("", 1, "the file is empty"),
        ("# only a comment\n", 1, "the file is empty"),
        ("a: 1\nb: \x00", 2, r"character U\+0000 does not belong in a text file"),
    ],
)
def test_refused_with_the_line(text: str, line: int, words: str) -> None:
    with pytest.raises(ProfileError, match=words) as caught:
        load_text(text, "car.yaml")
    assert caught.value.line == line
    assert str(caught.value).startswith(f"car.yaml:{line}: ")


def test_a_bomb_of_aliases_is_refused_before_it_is_built() -> None:
    rows = ["a0: &a0 [1, 2, 3, 4, 5, 6, 7, 8, 9, 10]"]
    rows += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 12)]
    with pytest.raises(ProfileError, match="more than 100000 values with every alias written out") as caught:
        load_text("\n".join(rows))
    # 10 numbers and 1 list on line 1; line n adds ten of the line before: 11, 111, 1111, 11111; 111111 is too many
    assert caught.value.line == 5


def test_bytes_that_are_no_text(tmp_path: Path) -> None:
    path = tmp_path / "car.yaml"
    path.write_bytes(b"a: 1\nb: caf\xe9\n")
    with pytest.raises(ProfileError, match=r"byte 0xe9 is not UTF-8 text; .*Save it as UTF-8") as caught:
        load_file(path)
    assert caught.value.line == 2
    path.write_bytes("a: 1\n".encode("utf-16"))
    with pytest.raises(ProfileError, match="UTF-16; save it as UTF-8"):
        load_file(path)
    path.write_bytes(bytes(range(256)))
    with pytest.raises(ProfileError, match="is this a YAML profile"):
        load_file(path)
    path.write_bytes(b"\xef\xbb\xbfa: caf\xc3\xa9\r\nb: 2\r\n")
    document = load_file(path)
    assert document.data == {"a": "caf\u00e9", "b": 2}
    assert document.line(("b",)) == 2


def test_a_file_that_is_too_large(tmp_path: Path) -> None:
    path = tmp_path / "car.yaml"
    path.write_bytes(b"#" * (MAX_BYTES + 1))
    with pytest.raises(ProfileError, match="larger than 2 MB"):
        load_file(path)


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def locked(*_args: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", locked)
    with pytest.raises(ProfileError, match="may not be read; check its permissions"):
        load_file(tmp_path / "car.yaml")


def test_folder_and_missing_file(tmp_path: Path) -> None:
    with pytest.raises(ProfileError, match="this is a folder"):
        load_file(tmp_path)
    with pytest.raises(ProfileError, match="there is no such file"):
        load_file(tmp_path / "none" / "car.yaml")
    with pytest.raises(ProfileError, match="cannot be read"):
        load_file("x" * 5000)
