import pytest

from motelake.core.cells import read_name, read_number
from motelake.core.problems import Problems
from motelake.core.tables import Column, read_table

_COLUMNS = (
    Column("stall", read_name, is_needed=True),
    Column("width_m", read_number),
    Column("note", str),
    Column("lamp", read_name, is_optional=True),
)


def read(content: bytes) -> tuple[list[dict[str, object]], list[str]]:
    problems = Problems()
    table = read_table("stalls.csv", content, _COLUMNS, problems)
    return [row.values for row in table.rows], problems.sentences()


@pytest.mark.parametrize(
    "content",
    [
        b"stall,width_m,note\nS1,2.5,\n",
        b"\xef\xbb\xbfstall,width_m,note\nS1,2.5,\n",
        b"stall,width_m,note\r\nS1,2.5,\r\n",
        b"stall,width_m,note\rS1,2.5,\r",
        b"stall,width_m,note\nS1,2.5,",
        b"\n\nstall,width_m,note\n\n,,\nS1,2.5,\n\n",
        b" stall , width_m,note\n S1, 2.5 , \n",
        b'"stall","width_m","note"\n"S1","2.5",""\n',
    ],
)
def test_the_ways_of_writing_one_table_read_the_same(content: bytes) -> None:
    assert read(content) == ([{"stall": "S1", "width_m": 2.5, "note": None}], [])


def test_columns_may_stand_in_any_order_and_optional_ones_may_be_there() -> None:
    values, problems = read(b"lamp,note,stall,width_m\nL1,,S1,\n")
    assert (values, problems) == ([{"lamp": "L1", "note": None, "stall": "S1", "width_m": None}], [])


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", ["stalls.csv, row 1: the file is empty; write the header stall,width_m,note,lamp"]),
        (
            b"stall;width_m;note\n",
            ["stalls.csv, row 1: its cells are parted by ';'; write them parted by ','"],
        ),
        (
            b"stall,width_m,note,colour\n",
            ["stalls.csv, row 1: 'colour' is no column of this file; known are"],
        ),
        (b"stall,width_m,note,note\n", ["stalls.csv, row 1, column note: the column stands there twice"]),
        (
            b"stall,width,note\nS1,2,\n",
            [
                "stalls.csv, row 1: 'width' is no column of this file; did you mean 'width_m'?",
                "stalls.csv, row 1, column width_m: the column is missing",
            ],
        ),
        (
            b"stall,width_m,note\nS1,2,5,\n",
            ["stalls.csv, row 2: has 4 cells where the header names 3 columns"],
        ),
        (b"stall,width_m,note\nS1,2\n", ["stalls.csv, row 2: has 2 cells where the header names 3 columns"]),
        (b"stall,width_m,note\n,2,\n", ["stalls.csv, row 2, column stall: is empty; it must be filled in"]),
        (
            "stall,width_m,note\nS1,2,\n".encode("utf-16"),
            ["stalls.csv: is UTF-16, not UTF-8; save the file as UTF-8"],
        ),
        (b"stall,width_m,note\nS1,2,\xe4\n", ["stalls.csv, row 2, column note: '\\udce4' is not UTF-8"]),
        (b"stall,width_m,note\nS1,2,a\0b\n", ["stalls.csv, row 2, column note: 'a\\x00b' holds a control"]),
        (b'stall,width_m,note\nS1,2,"a\n\nS2,,\n', ["stalls.csv, row 2: is no CSV from here on"]),
        (b'stall,width_m,note\nS1,2,"a"b\n', ["stalls.csv, row 2: is no CSV from here on"]),
    ],
)
def test_a_mistake_is_told_where_it_stands(content: bytes, told: list[str]) -> None:
    problems = read(content)[1]
    assert len(problems) == len(told)
    for problem, beginning in zip(problems, told, strict=True):
        assert problem.startswith(beginning)


def test_a_row_is_the_line_of_the_file_even_after_blank_lines_and_quoted_breaks() -> None:
    problems = read(b'stall,width_m,note\n\n"S1",2,"a\nb"\nS2,wide,\n')[1]
    assert problems[0].startswith("stalls.csv, row 3, column note")
    assert problems[1].startswith("stalls.csv, row 5, column width_m: 'wide' is no number")


@pytest.mark.parametrize("number", ["nan", "inf", "1_000", "1,5", "0x10", "٣", "1e400", "--1"])
def test_what_is_no_finite_decimal_number_is_refused(number: str) -> None:
    problems = read(f'stall,width_m,note\nS1,"{number}",\n'.encode())[1]
    assert len(problems) == 1
    assert problems[0].startswith(f"stalls.csv, row 2, column width_m: {number!r} is no number; write digits")
