"""What the yard has: read as people write it, refused in one sentence, usual where nothing is noted."""

import re
from dataclasses import replace
from fractions import Fraction

import pytest

from capture.lengths import MM, Unit
from layout.pieces import Piece, PieceRole
from layout.stock import Material, StockError
from layout.yard import Yard, offered

F = Fraction


def board(width="7/2", thickness="3/4", length=60) -> Piece:
    return Piece("rail", PieceRole.TOP_RAIL, "wall", ("rail",), F(length), F(width), F(thickness))


def test_a_nominal_board_has_its_dressed_size():
    # PS 20, dressed dry: a nominal 1 x 4 is 3/4 by 3 1/2, a 5/4 x 6 is 1 by 5 1/2 (as tabled in `layout.stock`).
    (eight, twelve) = offered(Material.BOARD, "1 x 4", "8 ft, 12 ft")
    assert (eight.thickness, eight.width, eight.length, twelve.length) == (F(3, 4), F(7, 2), 96, 144)
    (deck,) = offered(Material.BOARD, "5/4 × 6", "10 ft")
    assert (deck.thickness, deck.width) == (1, F(11, 2))


def test_what_has_a_size_of_its_own_says_it_and_how_many_there_are():
    (plank,) = offered(Material.BOARD, "poplar", "13/16 x 5 1/2: 3 of 10 ft")
    assert (plank.thickness, plank.width, plank.length, plank.available) == (F(13, 16), F(11, 2), 120, 3)
    (sheet,) = offered(Material.SHEET, "MDF", "6 mm: 1220 mm x 2440 mm")
    assert (sheet.thickness, sheet.width, sheet.length) == (6 * MM, 1220 * MM, 2440 * MM)


@pytest.mark.parametrize(
    ("price", "of_eight_feet"),
    [("1.50/ft", F(12)), ("5/m", 5 * 96 * F("25.4") / 1000), ("14 each", F(14))],
)
def test_a_price_is_by_the_foot_by_the_metre_or_each(price, of_eight_feet):
    # 8 ft is 96 in, 25.4 mm each by definition (24 FR 5348, 1959)
    yard = Yard(boards={"1 x 4": "8 ft"}, prices={"1 x 4": price})
    assert yard.stocks[0].price == of_eight_feet


@pytest.mark.parametrize(
    ("material", "name", "text", "sentence"),
    [
        (Material.BOARD, "1 x 4", "8, 10", 'said to be 8" long, less than 24"; for feet write 8 ft'),
        (Material.BOARD, "poplar", "8 ft", "wants its actual size, two lengths with an x between"),
        (Material.BOARD, "1 x 13", "8 ft", "No dressed size is known for a nominal 1 × 13"),
        (Material.BOARD, "1 x 4", "", "has 0 sizes"),
        (Material.BOARD, "1 x 4", ", ".join(["8 ft"] * 41), "has 41 sizes"),
        (Material.BOARD, "1 x 4", "long", "“long” is not a length"),
        (Material.SHEET, "MDF", "48 x 96", "is not a length"),
        (Material.SHEET, "MDF", "1/4: 48", "two lengths with an x between"),
        (Material.MOULDING, "mould", "1/2 x 0: 8 ft", 'is said to be 0" wide'),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_one_sentence(material, name, text, sentence):
    with pytest.raises(StockError, match=re.escape(sentence)) as refused:
        offered(material, name, text)

    assert str(refused.value).count("\n") == 0


@pytest.mark.parametrize("price", ["1.85", "-1/ft", "free", "1e9/ft", "0/ft"])
def test_a_price_that_cannot_be_read_is_refused(price):
    with pytest.raises(ValueError, match=r"is not a price|said to cost 0"):
        Yard(boards={"1 x 4": "8 ft"}, prices={"1 x 4": price})


def test_a_share_of_waste_is_kept_exactly():
    yard = Yard(waste="12.5%")
    assert yard.waste == F(1, 8)
    assert Yard.model_validate_json(yard.model_dump_json()) == yard
    assert Yard(waste="0").waste == Yard.model_validate_json(Yard(waste="0%").model_dump_json()).waste == 0
    with pytest.raises(ValueError, match="between 0 and 100%"):
        Yard(waste="120%")


def test_nothing_noted_takes_what_is_usual_and_says_so():
    stocks, taken = Yard().stock_for([board()])
    assert {stock.width for stock in stocks} >= {F(7, 2), F(11, 2)}
    assert {stock.length / 12 for stock in stocks} == {8, 10, 12, 14, 16}
    assert taken == (
        'what the yard has of boards 3/4" thick was not noted; usual ones were taken: 8, 10, 12, 14, 16 ft',
    )


def test_in_a_metric_job_nothing_is_taken_for_granted_that_is_sold_by_the_foot():
    sheet = replace(board(thickness="1/4"), material=Material.SHEET)
    moulding = replace(board(thickness="1/2"), material=Material.MOULDING)
    stocks, taken = Yard().stock_for([board(), sheet, moulding], Unit.MM)
    assert all((stock.length / MM) % 5 == 0 for stock in stocks)
    # Dressed widths stay those of PS 20, so that a stile of 3 1/2 in is a board as bought.
    assert {stock.name: stock.width for stock in stocks}["19 mm × 89 mm"] == F(7, 2)
    assert [sentence.partition("not noted; ")[2] for sentence in taken] == [
        "usual ones were taken: 2400, 3000, 3600, 4200, 4800 mm",
        "usual ones were taken: 1220 mm × 2440 mm",
        "usual ones were taken: 2400, 3000, 3600, 4200, 4800 mm",
    ]
    assert "19 mm thick" in taken[0]


def test_what_was_noted_is_all_there_is_of_its_material():
    stocks, taken = Yard(boards={"1 x 4": "8 ft"}).stock_for([board(), board(thickness="1/2")])
    assert [stock.spoken() for stock in stocks] == ['“1 x 4” of 96"']
    assert taken == ()


def test_what_cannot_be_carried_in_is_left_out_and_nothing_takes_its_place():
    yard = Yard(boards={"1 x 4": "8 ft, 16 ft"}, longest="12 ft")
    assert [stock.length for stock in yard.stock_for([board()])[0]] == [96]
    assert Yard(boards={"1 x 4": "16 ft"}, longest="12 ft").stock_for([board()]) == ((), ())


def test_a_thickness_that_no_standard_knows_comes_as_a_wide_board():
    stocks, _ = Yard().stock_for([board(thickness="13/32")])
    assert {(stock.thickness, stock.width) for stock in stocks} == {(F(13, 32), F(45, 4))}
