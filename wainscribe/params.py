"""What the command line takes besides plain words: lengths, pixels, KEY=VALUE."""

from fractions import Fraction
from typing import Any

import click

from capture.lengths import LengthError, parse_length


class LengthType(click.ParamType[Fraction]):
    """A length as people write it; a Fraction of inches comes out."""

    name = "length"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Fraction:
        """Read it, or say how to write it."""
        if isinstance(value, Fraction):
            return value
        try:
            return parse_length(str(value))
        except LengthError as error:
            self.fail(str(error), param, ctx)


class FormerLengthType(click.ParamType[Fraction | str]):
    """A length, or nothing between quotes to clear what was noted before; "" comes out for that."""

    name = "length"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Fraction | str:
        """Read it, or say how to write it."""
        return "" if value == "" else LENGTH.convert(value, param, ctx)


class PixelType(click.ParamType[tuple[float, float]]):
    """A pixel written as U,V."""

    name = "u,v"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, float]:
        """Read it, or say how to write it."""
        if isinstance(value, tuple):
            return value
        try:
            u, v = (float(part) for part in str(value).split(","))
        except ValueError:
            self.fail(f"“{value}” is no pixel; write it as U,V such as 2016.5,1511", param, ctx)
        if not (abs(u) < 1e6 and abs(v) < 1e6):
            self.fail(f"“{value}” lies outside any photo", param, ctx)
        return u, v


class SettingType(click.ParamType[tuple[str, str]]):
    """KEY=VALUE."""

    name = "key=value"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[str, str]:
        """Split at the first equals sign."""
        if isinstance(value, tuple):
            return value
        key, equals, text = str(value).partition("=")
        if not equals or not key.strip():
            self.fail(f"“{value}” should be KEY=VALUE, such as stile='3 1/2'", param, ctx)
        return key.strip(), text.strip()


LENGTH, FORMER_LENGTH, PIXEL, SETTING = LengthType(), FormerLengthType(), PixelType(), SettingType()
