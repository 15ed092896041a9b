"""Files spoilt at random places: what the tests of hostile files and sweeps have in common."""

from __future__ import annotations

from hypothesis import strategies as st

#: What is done, where (0 to 1 of the file), to how many bytes, and the piece that comes in.
Change = tuple[str, float, int, bytes]


def changes(pieces: st.SearchStrategy[bytes]) -> st.SearchStrategy[list[Change]]:
    """One to five changes with these pieces."""
    kind = st.sampled_from(["delete", "duplicate", "replace", "insert"])
    return st.lists(st.tuples(kind, st.floats(0, 1), st.integers(1, 40), pieces), min_size=1, max_size=5)


def mutate(content: bytes, made: list[Change]) -> bytes:
    """``content`` after the changes, one after the other."""
    for kind, place, size, piece in made:
        start = int(place * len(content))
        end = min(len(content), start + size)
        middle = {
            "delete": b"",
            "duplicate": content[start:end] * 2,
            "replace": piece,
            "insert": piece + content[start:end],
        }
        content = content[:start] + middle[kind] + content[end:]
    return content
