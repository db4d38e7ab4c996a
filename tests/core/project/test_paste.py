"""Blocks of text from spreadsheets, files and mails become rows of numbers."""

from __future__ import annotations

import pytest

from core.project.paste import PasteError, parse_block


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("0\t84\n150\t88\n", [[0, 84], [150, 88]]),
        ("0\t84,5\r\n150\t88,25\r\n", [[0, 84.5], [150, 88.25]]),
        ("x [mm]\twidth [mm]\n0\t84\n", [[0, 84]]),
        ("x;w\n0;84,5\n150;88", [[0, 84.5], [150, 88]]),
        ("0, 84.5\n150, 88", [[0, 84.5], [150, 88]]),
        ("0,84.5\n150,88.0", [[0, 84.5], [150, 88]]),
        ("0 84,5\n150 88,5", [[0, 84.5], [150, 88.5]]),
        ("37,5\n40", [[37.5], [40]]),
        ("0,40\n100,44\n200,36", [[0, 40], [100, 44], [200, 36]]),
        ("x,width\n10,40\n20,44", [[10, 40], [20, 44]]),
        ("40,5\n41,2\n42,7", [[40.5], [41.2], [42.7]]),
        ("20,0\n15,5\n10,25", [[20], [15.5], [10.25]]),
        ("1.234,5\t2", [[1234.5, 2]]),
        ("1 234,5\t2", [[1234.5, 2]]),
        ("12,000\t3", [[12, 3]]),
        ("−3\t1e-3", [[-3, 1e-3]]),
        ("1\t\t3\n\n4\t-\t6", [[1, None, 3], [4, None, 6]]),
        ("\ufeff1\t2", [[1, 2]]),
        ("", []),
        (" \n ", []),
    ],
)
def test_block(text, rows):
    assert parse_block(text) == rows


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1\t2\n3\tfour", 'Row 2, column 2 of the pasted text is "four"'),
        ("1\tnan", '"nan", not a number'),
        ("1\t1e999", '"1e999", not a number'),
        ("hello", '"hello", not a number'),
        ("1\t12 mm", '"12 mm", not a number'),
    ],
)
def test_words_in_a_block_are_refused(text, words):
    with pytest.raises(PasteError, match="not a number") as caught:
        parse_block(text)
    assert words in str(caught.value)
