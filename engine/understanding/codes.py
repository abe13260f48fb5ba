"""A number as it is printed on a paper: letters, digits and hyphens, as it was typed or as it is said in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from engine.entries.matching.match_context import MatchContext
from engine.entries.matching.row_numbers import numerals
from engine.entries.phrases.tokens import fold, has_digit
from engine.understanding.scanning.spans import TextSpan

HYPHEN = "-"
INNER = frozenset("-/.")
RULES = ("below_hundred", "hundreds", "thousands", "digit")
START = 2
"""So many signs at the beginning of two codes show that one is a false start of the other."""
MOST_ALIKE = 2
"""So many codes stand in a sentence that puts one right."""
MOST_APART = 3
"""So many digits that stand one by one are told one by one, and stand together on paper."""
FEW_LETTERS = 4
"""So many letters at most stand before or behind the digits of a code."""


@dataclass(frozen=True)
class CodePart:
    """A piece of a code from one token up to another; ``typed`` as it is printed, else said in words, ``whole`` where
    it has a hyphen of its own, ``measured`` where a unit follows, so that it is an amount."""

    text: str
    start: int
    end: int
    typed: bool = False
    whole: bool = False
    measured: bool = False

    @property
    def has_digit(self) -> bool:
        return has_digit(self.text)


@dataclass(frozen=True)
class PrintedCode:
    """What is read as one code, and from where to where it stands."""

    text: str
    start: int
    end: int

    def is_inside(self, part: Sequence[TextSpan]) -> bool:
        """Whether it stands in a part of the sentence."""
        return part[0].start <= self.start and self.end <= part[-1].end


def codes_in(hearing: MatchContext, lettered: bool = False) -> list[PrintedCode]:
    """All codes of a text. ``lettered``: one may begin with letters that stand apart, as in "PA 55-0931"."""
    found = [_code(run) for run in _runs(list(_parts(hearing)), hearing, lettered)]
    return [one for one in found if one is not None]


def code_told(hearing: MatchContext, lettered: bool = False) -> str | None:
    """The one code that a text tells, with every digit of the text in it but amounts; None where there is none, or
    more than one. One that another one begins is told with a false start."""
    codes = codes_in(hearing, lettered)
    if not codes:
        return None
    if (last := _put_right(codes, hearing)) is not None:
        return last.text
    longest = max(codes, key=lambda one: len(one.text))
    plain = all(one.text == longest.text or _begins(one, longest, hearing) for one in codes)
    return longest.text if plain else None


def _put_right(codes: Sequence[PrintedCode], hearing: MatchContext) -> PrintedCode | None:
    """The last of two codes that are made alike, where words between take the first one back: "11459-8, no, wait,
    11459-3"."""
    made = [part.isdigit() for part in codes[-1].text]
    alike = [one for one in codes if [part.isdigit() for part in one.text] == made]
    if len(alike) != MOST_ALIKE:
        return None
    first, last = alike
    loose, before = hearing.loose, hearing.key(last.start - 1)
    denied = before in loose.not_words and before not in loose.denies_all
    return last if not denied and hearing.says(loose.repairs, range(first.end, last.start)) else None


def _begins(piece: PrintedCode, code: PrintedCode, hearing: MatchContext) -> bool:
    """Whether a piece right before a code, with marks alone between, is it without its letters, or the beginning of one
    with a hyphen that was not gone on with."""
    between = hearing.tokens[piece.end : code.start]
    letters = code.text.removesuffix(piece.text)
    same = letters != code.text and not has_digit(letters)
    start = HYPHEN in code.text and HYPHEN not in piece.text and piece.text[:START] == code.text[:START]
    return piece.end <= code.start and all(token.is_break for token in between) and (same or start)


def _parts(hearing: MatchContext) -> Iterator[CodePart]:
    place = 0
    while place < len(hearing.tokens):
        part = _typed(hearing, place) or _said(hearing, place) or _hyphen(hearing, place) or _letters(hearing, place)
        if part is not None:
            yield part
        place = part.end if part else place + 1


def _typed(hearing: MatchContext, place: int) -> CodePart | None:
    """What is written without a gap and has a digit: "PA-88-1936", "5K0318"."""
    tokens = hearing.tokens
    if not (tokens[place].is_number or tokens[place].text.isalpha()):
        return None
    end = place + 1
    while end < len(tokens) and tokens[end - 1].end == tokens[end].start:
        goes_on = end + 1 < len(tokens) and tokens[end].end == tokens[end + 1].start and tokens[end + 1].text.isalnum()
        if not (tokens[end].text.isalnum() or (tokens[end].text in INNER and goes_on)):
            break
        end += 1
    text = hearing.said(place, end)
    if not has_digit(text):
        return None
    plain = text.isdigit() or tokens[place].text == text
    measured = plain and (bool(hearing.units_at(end)) or (end < len(tokens) and tokens[end].text == "%"))
    inner = any(one in text for one in INNER)
    return CodePart(text, place, end, typed=True, whole=inner, measured=measured)


def _said(hearing: MatchContext, place: int) -> CodePart | None:
    """Digits in words: "seventy two", "oh", "double five"."""
    loose, key = hearing.loose, hearing.key(place)
    if key in loose.pronouns and place and hearing.key(place - 1) in loose.before_pronoun:
        return None
    times = next((int(number) for number, words in hearing.naming.repeated.items() if key in words), 1)
    start = place + (times > 1)
    matches = (match for rule in (RULES if times == 1 else ("digit",)) for match in hearing.matcher.rule(rule, start))
    ends = [(match.end, one.digits) for match in matches for one in numerals(match.captures) if one.digits]
    if not ends or start >= len(hearing.tokens) or hearing.tokens[start].is_number:
        return None
    end, digits = max(ends)
    return CodePart(digits * times, place, end, measured=times == 1 and bool(hearing.units_at(end)))


def _hyphen(hearing: MatchContext, place: int) -> CodePart | None:
    """A hyphen that stands apart or is said, with small words around it: "then a dash then"."""
    naming, end = hearing.naming, place
    while hearing.key(end) in naming.between:
        end += 1
    if hearing.key(end) not in {HYPHEN, *naming.dashes}:
        return None
    end += 1
    while hearing.key(end) in naming.between:
        end += 1
    return CodePart(HYPHEN, place, end)


def _letters(hearing: MatchContext, place: int) -> CodePart | None:
    """Capital letters that stand apart, or one letter that is explained: "C as in Charlie"."""
    token, vocabulary = hearing.tokens[place], hearing.vocabulary
    ends = hearing.ends(vocabulary.naming.likened, place + 1)
    letter = len(token.text) == 1 and (token.text.isupper() or token.key not in vocabulary.plain_words)
    if letter and token.text.isalpha() and ends and max(ends) < len(hearing.tokens):
        return CodePart(token.text.upper(), place, hearing.after_breaks(max(ends) + 1, hearing.naming.between))
    shouted = hearing.text.isupper() and len(hearing.tokens) > FEW_LETTERS
    plain = token.text.isalpha() and token.text.isupper() and len(token.text) <= FEW_LETTERS and not shouted
    return CodePart(token.text, place, place + 1, typed=True) if plain else None


def _runs(parts: Sequence[CodePart], hearing: MatchContext, lettered: bool) -> Iterator[list[CodePart]]:
    """Parts that follow each other without a word between them and belong together."""
    run: list[CodePart] = []
    for part in parts:
        follows = bool(run) and _touches(run[-1], part, hearing) and _belongs(run, part)
        if run and not follows:
            yield _trimmed(run, hearing, lettered)
        run = [*run, part] if follows else [part]
    if run:
        yield _trimmed(run, hearing, lettered)


def _touches(before: CodePart, part: CodePart, hearing: MatchContext) -> bool:
    """Whether nothing stands between two parts, or a comma where the hyphen is said: "five one eight, dash, two"."""
    between = hearing.tokens[before.end : part.start]
    said = HYPHEN in (before.text, part.text) and not (before.typed and part.typed)
    return not between or (said and all(token.is_break for token in between))


def _belongs(run: Sequence[CodePart], part: CodePart) -> bool:
    last = run[-1]
    if last.measured or part.measured:
        return False
    dashed = HYPHEN in (last.text, part.text)
    lone_letters = not last.has_digit or not part.has_digit
    return dashed or lone_letters or not (last.whole or part.whole)


def _trimmed(run: list[CodePart], hearing: MatchContext, lettered: bool) -> list[CodePart]:
    """A run without hyphens and stray letters at its ends; letters that stand apart stay before a hyphen, where they
    were explained, or where codes of this kind have such."""
    while run and (run[-1].text == HYPHEN or _is_word(run, hearing)):
        run = run[:-1]
    while run and (run[0].text == HYPHEN or _is_stray(run, hearing, lettered)):
        run = run[1:]
    return run


def _is_word(run: Sequence[CodePart], hearing: MatchContext) -> bool:
    """Whether letters at the end of a run are a word that follows: "40127 OK", "474 I got it backwards"."""
    part, tokens = run[-1], hearing.tokens
    if part.has_digit or not part.typed or len(run) < 2 or run[-2].text == HYPHEN:
        return False
    goes_on = part.end < len(tokens) and not tokens[part.end].is_break
    return goes_on or len(part.text) > 1 or fold(part.text) in hearing.naming.sentence


def _is_stray(run: Sequence[CodePart], hearing: MatchContext, lettered: bool) -> bool:
    first = run[0]
    if first.has_digit or not first.typed:
        return False
    key, vocabulary = fold(first.text), hearing.vocabulary
    names = {*vocabulary.loose.lot, *vocabulary.loose.not_words, *vocabulary.naming.sentence}
    if len(run) < 2 or key in names:
        return True
    return not (run[1].text == HYPHEN or (lettered and len(first.text) < FEW_LETTERS))


def _code(run: Sequence[CodePart]) -> PrintedCode | None:
    """The text of a run; None where it is an amount, or a lone digit in words."""
    told = [part for part in run if part.has_digit]
    if not told or any(part.measured for part in run):
        return None
    said = any(not part.typed for part in run if part.text != HYPHEN) or all(len(part.text) == 1 for part in run)
    said = said or (len(told) >= MOST_APART and all(len(part.text) == 1 for part in told))
    if len(run) == 1 and not run[0].typed and len(run[0].text) == 1:
        return None
    text = "".join(_glued(run, said))
    return PrintedCode(text.upper(), run[0].start, run[-1].end)


def _glued(run: Sequence[CodePart], said: bool) -> Iterator[str]:
    """The texts of a run, with the gaps that were typed between pieces that were all typed."""
    yield run[0].text
    for before, part in pairwise(run):
        gap = not said and HYPHEN not in (before.text, part.text)
        yield f" {part.text}" if gap else part.text
