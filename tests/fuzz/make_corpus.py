"""Writes the corpus of hostile need and structure files: ``python tests/fuzz/make_corpus.py``.

Each is small and wrong in one way that a person, an editor, a broken disk or an ill-willed sender could produce.
Names starting with ``need-`` are read as needs, ``structure-`` as structures.
"""

from __future__ import annotations

from pathlib import Path

CORPUS = Path(__file__).with_name("corpus")

NEED = """title = "t"
polarisation = "vertical"
[[band]]
label = "a"
range = "118-137 MHz"
[[feed_line]]
type = "RG-58"
length = "10 m"
[site]
height = "8 m"
[[stock]]
kind = "rod"
material = "brass"
diameter = "3.2 mm"
length = "1 m"
"""
#: Invented.
LINES = """1 99901U          26305.50000000  .00002000  00000-0  10000-3 0  9995
2 99901  97.5000  15.0000 0005000  90.0000 270.0000 15.15323725    15"""
STRUCTURE = """name = "s"
[[rod]]
name = "whip"
points = [[0, 0, "5 mm"], [0, 0, "500 mm"]]
diameter = "3.2 mm"
copies = 1
[[surface]]
name = "plate"
profile = [["5 mm", 0], ["200 mm", 0]]
[feed]
kind = "aperture"
positive = ["1.6 mm", 0]
negative = ["5 mm", 0]
"""

#: Values put in the place of a sound one.
VALUES = {
    "nan": "nan",
    "inf": "-inf",
    "huge-integer": "9" * 4000,
    "huge-float": "1e999",
    "bool": "true",
    "date": "1979-05-27T07:32:00Z",
    "time": "07:32:00",
    "empty": '""',
    "array": "[]",
    "table": "{}",
    "nested": "[[[[[[]]]]]]",
    "escape": '"\\u0000\\u001b[2J mm"',
    "bidi": '"3 \\u202emm"',
    "long-text": '"' + "9" * 3000 + ' mm"',
    "zero": '"0 mm"',
    "negative": '"-5 mm"',
    "gigahertz": '"5 GHz"',
    "zero-megahertz": '"0 MHz"',
    "no-unit": '"5"',
    "thousands": '"1,000 mm"',
    "exponent": '"1e99 mm"',
    "tiny": '"1e-99 mm"',
    "other-digits": '"\\u0663 mm"',
    "multi-line": '"""\n3\nmm"""',
    "percent": '"%s%n {0} {what}"',
    "fraction": '"1/0 in"',
    "surrogate-like": '"\\uFFFF mm"',
}


def satellite(elements: str) -> bytes:
    """A need whose satellite has these elements."""
    site = NEED.replace('height = "8 m"', 'latitude = "50 deg"\nlongitude = "0 deg"')
    more = '[satellite]\nname = "s"\nband = "a"\npower = "1 W"\nmodulation = "CW"\n[far_end]\nkind = "sky"\n'
    return (site + more.replace("[far_end]", f"{elements}\n[far_end]")).encode()


def files() -> dict[str, bytes]:
    """File name -> content."""
    found: dict[str, bytes] = {}
    for name, value in VALUES.items():
        if name != "zero":  # a receiver at the antenna is sound
            found[f"need-length-{name}.toml"] = NEED.replace('"10 m"', value).encode()
        found[f"structure-diameter-{name}.toml"] = STRUCTURE.replace('"3.2 mm"', value).encode()
    for name in ("nan", "huge-integer", "bool", "array", "table", "escape", "long-text", "percent"):
        if name != "percent":  # an odd title, but a title
            found[f"need-title-{name}.toml"] = NEED.replace('"t"', VALUES[name], 1).encode()
        found[f"need-band-{name}.toml"] = NEED.replace('"118-137 MHz"', VALUES[name]).encode()
        found[f"structure-copies-{name}.toml"] = STRUCTURE.replace("copies = 1", f"copies = {VALUES[name]}").encode()
        found[f"structure-point-{name}.toml"] = STRUCTURE.replace('"500 mm"', VALUES[name]).encode()
    found |= {
        "need-elements-checksum.toml": satellite(f'elements = """{LINES[:-1]}7"""'),
        "need-elements-entities.toml": satellite(
            "elements = '<!DOCTYPE a [<!ENTITY b \"b\">]><omm><BSTAR>&b;</BSTAR></omm>'"
        ),
        "need-elements-brackets.toml": satellite(f"elements = '{'[' * 50_000}'"),
        "need-elements-upward.toml": satellite('elements_file = "../../secret.tle"'),
        "need-elements-absolute.toml": satellite('elements_file = "/dev/zero"'),
        "need-elements-both.toml": satellite('elements_file = "a.tle"\nelements = "b"'),
        "need-elements-of-itself.toml": satellite('elements_file = "need-elements-of-itself.toml"'),
        "need-horizon-flat.toml": NEED.replace('height = "8 m"', 'horizon = ["3 deg", "4 deg"]').encode(),
        "need-horizon-twice.toml": NEED.replace(
            'height = "8 m"', 'horizon = [["0 deg", "4 deg"], ["360 deg", "5 deg"]]'
        ).encode(),
        "need-empty.toml": b"",
        "need-only-comment.toml": b"# nothing\n",
        "need-nul.toml": b"title = \x00\n",
        "need-latin1.toml": NEED.replace('"t"', '"caf\xe9"').encode("latin-1"),
        "need-utf16.toml": NEED.encode("utf-16"),
        "need-overlong-utf8.toml": b'title = "\xc0\x80"\n',
        "need-cut-utf8.toml": NEED.encode() + b'question = "\xe2\x82',
        "need-lone-cr.toml": NEED.replace("\n", "\r").encode(),
        "need-bom-twice.toml": b"\xef\xbb\xbf\xef\xbb\xbf" + NEED.encode(),
        "need-cut.toml": NEED.encode()[:60],
        "need-json.toml": b'{"title": "t", "band": []}\n',
        "need-yaml.toml": b"title: t\nband:\n  - label: a\n",
        "need-binary.toml": bytes(range(256)),
        "need-escape-key.toml": NEED.encode() + b'"\\u001b[31mred" = 1\n',
        "need-empty-key.toml": b'"" = 1\n' + NEED.encode(),
        "need-long-key.toml": b"k" * 5000 + b" = 1\n" + NEED.encode(),
        "need-deep-key.toml": b"a" + b".a" * 3000 + b" = 1\n",
        "need-deep-quoted-key.toml": b'"a"' + b'."a"' * 3000 + b" = 1\n",
        "need-deep-header.toml": b"[a" + b".a" * 3000 + b"]\n",
        "need-deep-array.toml": b"a = " + b"[" * 3000 + b"]" * 3000 + b"\n",
        "need-deep-inline.toml": b"a = " + b"{a=" * 3000 + b"1" + b"}" * 3000 + b"\n",
        "need-open-array.toml": b"a = " + b"[" * 3000,
        "need-open-string.toml": b'title = """' + b"x" * 3000,
        "need-quotes.toml": b'"' * 5001,
        "need-twice-defined.toml": NEED.encode() + b"title = 'u'\n[site]\n",
        "need-band-is-table.toml": NEED.replace("[[band]]", "[band]").encode(),
        "need-band-is-text.toml": b"band = 'x'\n" + NEED.replace("[[band]]", "[[bond]]").encode(),
        "need-band-is-list-of-text.toml": b"title='t'\nband = ['x', 3]\n",
        "need-site-is-list.toml": NEED.replace("[site]", "[[site]]").encode(),
        "need-many-bands.toml": NEED.encode() + b"[[band]]\nlabel='b'\nrange='1-2 MHz'\n" * 300,
        "need-no-bands.toml": b"title = 't'\n",
        "need-owned-nonsense.toml": NEED.encode()
        + b"[[owned]]\nname='x'\nfamily='y'\ndimensions={a=nan,b=[],c='3 mm'}\n",
        "need-owned-deep.toml": NEED.encode() + b"[[owned]]\nname='x'\nfamily='y'\n[owned.dimensions.a.b]\nc=1\n",
        "need-transmit-elsewhere.toml": NEED.encode() + b"[transmit]\npower='5 W'\nband='\\u001b'\n",
        "need-bands-the-same.toml": NEED.encode() + b"[[band]]\nlabel='A'\nrange='118-137 MHz'\n",
        "need-quantity-minus.toml": NEED.encode() + b"quantity = -1\n",
        "need-quantity-billion.toml": NEED.encode() + b"quantity = 1000000000\n",
        "structure-empty.toml": b"",
        "structure-no-feed.toml": STRUCTURE.split("[feed]")[0].encode(),
        "structure-two-feeds.toml": STRUCTURE.replace("[feed]", "[[feed]]").encode(),
        "structure-feed-text.toml": STRUCTURE.split("[feed]")[0].encode() + b"\nfeed = 'x'\n",
        "structure-feed-other-kind.toml": STRUCTURE.replace('"aperture"', '"rod"').encode(),
        "structure-copies-billion.toml": STRUCTURE.replace("copies = 1", "copies = 1000000000").encode(),
        "structure-copies-minus.toml": STRUCTURE.replace("copies = 1", "copies = -1").encode(),
        "structure-one-point.toml": STRUCTURE.replace(', [0, 0, "500 mm"]', "").encode(),
        "structure-flat-points.toml": STRUCTURE.replace('[[0, 0, "5 mm"], [0, 0, "500 mm"]]', "[0, 0, 0]").encode(),
        "structure-same-points.toml": STRUCTURE.replace('"500 mm"', '"5 mm"').encode(),
        "structure-kilometres.toml": STRUCTURE.replace('"500 mm"', '"500 km"').encode(),
        "structure-profile-of-three.toml": STRUCTURE.replace('["5 mm", 0],', '["5 mm", 0, 0],').encode(),
        "structure-profile-negative.toml": STRUCTURE.replace('["5 mm", 0],', '["-5 mm", 0],').encode(),
        "structure-mode.toml": b"mode = 99999999999999999999\n" + STRUCTURE.encode(),
        "structure-ground.toml": b"ground = 'salad'\n" + STRUCTURE.encode(),
        "structure-ground-nan.toml": STRUCTURE.encode() + b"[ground]\npermittivity = nan\nconductivity = '-1 S/m'\n",
        "structure-ground-huge.toml": STRUCTURE.encode()
        + b"[ground]\npermittivity = 1e308\nconductivity = '1e99 S/m'\n",
        "structure-ground-list.toml": STRUCTURE.encode() + b"[[ground]]\nkind = 'wet'\n",
        "structure-same-names.toml": STRUCTURE.replace('"plate"', '"whip"').encode(),
        "structure-many-points.toml": STRUCTURE.replace('[0, 0, "5 mm"],', '[0, 0, "5 mm"],' * 2500).encode(),
    }
    return found


def main() -> None:
    """Write every file, remove what no longer belongs."""
    CORPUS.mkdir(exist_ok=True)
    wanted = files()
    for path in CORPUS.iterdir():
        if path.name not in wanted:
            path.unlink()
    for name, content in wanted.items():
        (CORPUS / name).write_bytes(content)


if __name__ == "__main__":
    main()
