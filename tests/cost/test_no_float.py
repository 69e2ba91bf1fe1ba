"""No float ever touches a price: by the types that carry money, and by the code that makes it."""

import ast
import dataclasses
import typing
from decimal import Decimal
from pathlib import Path

import pytest

import nestplan.cost
from nestplan.cost import Account, DecalPrice, Estimate, Line, Price, Taxed, account_of, price_of
from nestplan.job import Cost, Discount, Roll
from tests.cost.handmade import a_job, taken

ROOM = Path(nestplan.cost.__file__).parent
MONEY = ("account.py", "estimate.py", "lines.py", "money.py", "price.py")
NO_MONEY = {
    *("shrink_along_percent", "shrink_across_percent", "shrink_sd_percent"),
    *("expansion_ppm_k", "weight_g_m2", "avoid_m"),
}
CARRIERS = (Account, DecalPrice, Estimate, Line, Price, Taxed)


def types_in(hint):
    """All types that a type hint names."""
    inner = typing.get_args(hint)
    return {hint} if not inner else set().union(*map(types_in, inner))


@pytest.mark.parametrize("carrier", CARRIERS, ids=lambda c: c.__name__)
def test_what_carries_money_has_no_room_for_a_float(carrier):
    assert carrier.__dataclass_params__.frozen
    for name, hint in typing.get_type_hints(carrier).items():
        assert float not in types_in(hint), name


def test_every_price_of_a_file_is_decimal():
    for model in (Cost, Discount, Roll):
        for name, field in model.model_fields.items():
            measured = name.endswith(("_mm", "_m", "_s", "_h")) or "_s_per_" in name
            if name == "labour_per_h" or not (measured or name in NO_MONEY):
                assert float not in types_in(field.annotation), f"{model.__name__}.{name}"


@pytest.mark.parametrize("module", MONEY)
def test_the_code_that_makes_money_writes_no_float(module):
    """No literal with a point, no float(), and a measured float comes in through `exact` alone."""
    for node in ast.walk(ast.parse((ROOM / module).read_text())):
        if isinstance(node, ast.Constant):
            assert not isinstance(node.value, float), f"{module}, line {node.lineno}"
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id not in ("float", "round"), f"{module}, line {node.lineno}"


def test_every_amount_that_comes_out_is_decimal():
    job = a_job(cost={"margin_percent": Decimal(30), "tax_percent": Decimal(19)})
    found = price_of(job, account_of(job, taken(print_s=600.0)))

    def walked(value):
        if dataclasses.is_dataclass(value):
            for field in dataclasses.fields(value):
                yield from walked(getattr(value, field.name))
        elif isinstance(value, tuple):
            for each in value:
                yield from walked(each)
        else:
            yield value

    kinds = {type(value) for value in walked(found)}
    assert kinds == {Decimal, int, str}
