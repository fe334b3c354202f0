"""Which data mask pattern a QR symbol takes: the one whose symbol is the easiest to scan.

Source: ISO/IEC 18004:2015, 7.8.3 (evaluation of data masking results) and its table 11. "The
area to be evaluated is the complete symbol" (7.8.3.1): format and version information count.

Table 11 leaves the third feature, the finder-like pattern, open to several readings: whether
the quiet zone is a light area, whether a pattern with light on both sides counts twice, whether
light four modules wide does. The standard's own example (annex I.2, the digits 01234567, mask
pattern 010) comes out as printed with one of them, kept here: the quiet zone is light, four
modules do, and a pattern counts once. Patterns that overlap count each, as every occurrence is
to be counted.
"""

from __future__ import annotations

from labeler.codes.template import Template


def penalties(ribbon: int, template: Template) -> tuple[int, int, int, int]:
    """Return what each of the four features costs a finished symbol.

    Every line below treats all rows and columns of the symbol at once.
    """
    following = ribbon >> 1
    alike = template.pairs & ~(ribbon ^ following)
    fives = alike & alike >> 1
    fives &= fives >> 2
    runs = 3 * fives.bit_count() - 2 * (fives & fives >> 1).bit_count()

    stride = template.stride
    alike_below = ~(ribbon ^ ribbon >> stride)
    blocks = 3 * (alike & alike >> stride & alike_below & template.squares).bit_count()

    dark_pair = ribbon & following
    three_dark = dark_pair & dark_pair >> 1
    one_three_one = ribbon & three_dark >> 2 & ribbon >> 6 & ~(following | ribbon >> 5)
    some_dark = ribbon | following
    some_dark |= some_dark >> 2
    no_light_area = some_dark << 4 & some_dark >> 7
    finders = 40 * (one_three_one & ~no_light_area).bit_count()

    area = template.size**2
    dark = ribbon.bit_count() // 2
    balance = 10 * (abs(20 * dark - 10 * area) // area)
    return runs, blocks, finders, balance


def best_mask(data: int, template: Template) -> int:
    """Return the data mask pattern of the least penalty, the first of equals.

    Args:
        data: the ribbon of the data alone, unmasked.
        template: of the symbol's version and level.
    """
    totals = [sum(penalties(data ^ masked, template)) for masked in template.masked]
    return totals.index(min(totals))
