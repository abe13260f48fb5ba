"""A product's, a field's, a lot's or a person's name in a sentence that tells it."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

from engine.entries.matching.match_context import MatchContext
from engine.entries.phrases.tokens import fold, has_digit
from engine.expectation import ExpectedSlot
from engine.understanding.codes import code_told
from engine.understanding.extraction.capitals import (
    EDGES,
    MOST_WORDS,
    Knows,
    capitals,
    has_capitals,
    not_owning,
    unknown,
)

_CODE = re.compile(r"(?<![\w.])#?([A-Za-z]{0,4}-?\d\w*(?:[-/.]\w+)*)")
CLAUSE_END = re.compile(r",\s|(?<!\b[A-Z])\.(?:\s|\.)+|[;!?]|\s-\s")
_STRENGTH = re.compile(r"(?:[A-Z][\w-]*\s){0,2}[A-Za-z][\w-]{2,}\s\d+(?:\.\d+)?\s?[gG]\b(?:\s[A-Z][\w-]+)*")
QUOTES = '«“"'
_QUOTED = re.compile(r"[«“\"]\s*([^«»“”\"]{2,60}?)\s*[»”\"]")
"""What stands in quotation marks, as a name is quoted."""
_CLAUSE = re.compile(r"\s*(?:[,;!?]|\.(?!\w)|\s-\s|\.\.\.).*$", re.DOTALL)
SPELLED = re.compile(r"(?<![\w'’-])(?:[^\W\d_][-. ]){2,}[^\W\d_](?![\w-])")
"""A name letter by letter: "T-O-R-B-E-L"."""
_HEADING = re.compile(r"(?:[^\s:,;.\d]+\s){0,4}[^\s:,;.\d]+:\s+(?=\S)")
"""A few words with a colon behind them, that lead to a name: "on the ticket: Product A"."""
FIELD, PERSON, PRODUCT = "field", "applicator_name", "product"
"""Roles of a field's, a person's and a product's name."""
LOT = "lot"
"""The role of a lot's number."""
CODES = frozenset({LOT, "registration_number", "certification_number"})
"""Roles whose names are numbers as they are printed."""
LETTERED = frozenset({"certification_number", LOT})
"""Roles of numbers that may begin with letters that stand apart, such as those of a state."""
FEW_WORDS = 5
LONGEST_ARTICLE = 3


def name_in(hearing: MatchContext, slot: ExpectedSlot, knows: Knows) -> str | None:
    """The name that a sentence gives for a slot; None where nothing in it stands out as one."""
    text = " ".join(hearing.text.split())
    if (meant := without_replaced(text, hearing)) != text:
        return name_in(hearing.again(meant), slot, knows)
    if slot.role in CODES:
        return code_told(hearing, slot.role in LETTERED)
    if slot.role == PERSON and (person := _without_digits(text)) != text:
        return name_in(hearing.again(person), slot, knows) if person else None
    if heading := _HEADING.match(text):
        return name_in(hearing.again(text[heading.end() :]), slot, knows)
    if len(quoted := _QUOTED.findall(text)) == 1:
        return str(quoted[0]).strip(EDGES)
    if spelled := SPELLED.search(text):
        word = "".join(filter(str.isalpha, spelled[0])).capitalize()
        named = next((part for part in CLAUSE_END.split(text) if fold(word) in fold(part).split()), None)
        return word if named is None else name_in(hearing.again(named), slot, knows)
    stands_out = _full_name(hearing, text) if slot.role == PERSON else None
    stands_out = stands_out or _beside_a_sentence(hearing, text)
    if stands_out is not None:
        return _without_title(stands_out, slot, hearing)
    if len(text.split()) <= FEW_WORDS and not starts(hearing):
        said = without_tail(_without_remark(_without_filler(text, hearing), hearing, knows), hearing).strip(EDGES)
        name = _without_title(said or text, slot, hearing)
        return _without_lead(name if _keeps_article(name, slot) else _without_article(name, hearing), hearing)
    told = name_told(hearing, slot.names, text, knows)
    before = text.partition(told)[0].split()[-1:] if told and slot.role == FIELD else []
    small = hearing.naming.inside | hearing.naming.articles
    if told and told[:1].isupper() and before and before[0].istitle() and fold(before[0]) in small:
        return f"{before[0]} {told}"
    return _without_title(told, slot, hearing) if told else told


def clauses_in(text: str) -> list[str]:
    """What stands between the marks of a text."""
    return [part for part in (piece.strip(EDGES) for piece in CLAUSE_END.split(text)) if part]


def _without_digits(text: str) -> str:
    """The clauses of a text in which no number stands, as in no person's name: "Lee Park, his card says 4081"."""
    return ", ".join(part for part in clauses_in(text) if not has_digit(part))


def _keeps_article(name: str, slot: ExpectedSlot) -> bool:
    """Whether a place's name has its article with a capital, as in "El Encino"."""
    first, _, rest = name.partition(" ")
    return slot.role == FIELD and first.istitle() and rest[:1].isupper()


def _without_title(name: str, slot: ExpectedSlot, hearing: MatchContext) -> str:
    """A person's name without "Mr" or "Ing"."""
    first, _, rest = name.partition(" ")
    return rest if slot.role == PERSON and rest and fold(first) in hearing.naming.titles else name


def _names_apart(hearing: MatchContext, text: str) -> list[str]:
    """The clauses of several in which no word of a sentence or of talk stands."""
    parts, small = clauses_in(text), hearing.naming.sentence | hearing.naming.talk
    return [part for part in parts if small.isdisjoint(map(fold, part.split()))] if len(parts) > 1 else []


def _beside_a_sentence(hearing: MatchContext, text: str) -> str | None:
    """The words in capitals that a mark parts from words of a sentence or of talk: "dad is. Wendell Parrish"."""
    names = _names_apart(hearing, text)
    return names[0] if len(names) == 1 and has_capitals(names[0]) else None


def _full_name(hearing: MatchContext, text: str) -> str | None:
    """The one clause of several that is a first and a last name: "the last name is Hald with a d, Jorgen Hald"."""
    names = {part for part in _names_apart(hearing, text) if has_capitals(part)}
    names = {part for part in names if sum(fold(word) not in hearing.naming.titles for word in part.split()) > 1}
    return names.pop() if len(names) == 1 else None


def _without_filler(text: str, hearing: MatchContext) -> str:
    """A text without a first word that only fills: "um Mill Creek"."""
    first, _, rest = text.partition(" ")
    return rest if rest and fold(first.strip(EDGES)) in hearing.vocabulary.fillers else text


def _without_remark(text: str, hearing: MatchContext, knows: Knows) -> str:
    """A short text without a clause of ordinary words behind a comma: "Product A 15, that's it"."""
    first, mark, rest = text.partition(",")
    words = [fold(word.strip(EDGES)) for word in rest.split()]
    ordinary = all(word in hearing.vocabulary.plain_words or knows(word) for word in words)
    ordinary = ordinary and not all(word[0].isupper() for word in rest.split())
    return first if mark and words and ordinary and not has_digit(rest) else text


def _without_article(text: str, hearing: MatchContext) -> str:
    first, _, rest = text.strip(EDGES).partition(" ")
    small, asked = hearing.naming.articles, hearing.expectation.asked
    if asked is not None and asked.role == PRODUCT and rest[:1].isupper() and first.islower():
        small |= hearing.naming.inside
    return rest if rest and fold(first) in small else text.strip(EDGES)


def name_told(hearing: MatchContext, before: Collection[str], text: str, knows: Knows) -> str | None:
    """A name told before, what follows words that lead to one, or words that stand out by a capital or as unknown."""
    known = next((name for name in before if _is_said(name, text, hearing)), None)
    led = _led(hearing, text)
    told = led if led and (led[0].isupper() or _has_article(led, hearing)) else None
    found = known or _coded(text, hearing) or told or _whole(led, capitals(hearing, text, knows), hearing) or led
    name = found or unknown(hearing, text, knows)
    small = name is not None and name[:1].islower()
    return _without_kind(_without_article(name, hearing) if name and small else name, hearing)


def _whole(led: str | None, capitals: str | None, hearing: MatchContext) -> str | None:
    """The words in capitals; with those before them where they are led to and say what it is, as in "the bottom of the
    Hansens"."""
    if not led or not capitals or not led.endswith(capitals) or led == capitals:
        return capitals
    first, *between = _without_article(led.removesuffix(capitals), hearing).split() or [""]
    naming = hearing.naming
    plain = fold(first) in {*map(fold, naming.made_of), *naming.kinds} - naming.generic
    return _without_article(led, hearing) if plain and naming.inside.issuperset(map(fold, between)) else capitals


def _is_said(name: str, text: str, hearing: MatchContext) -> bool:
    """Whether a name stands in a text, and is not denied there: "not the north field"."""
    first, found, _ = f" {fold(text)} ".partition(f" {fold(name)} ")
    small = {*hearing.naming.articles, *hearing.naming.inside, *hearing.loose.copulas}
    words = [word for word in first.split() if word not in small]
    return bool(found) and not (words and words[-1].strip(EDGES) in hearing.loose.not_words)


def _has_article(name: str, hearing: MatchContext) -> bool:
    """Whether a name is an article with a word in capitals behind it, as in "la Loma"."""
    first, _, rest = name.partition(" ")
    return fold(first) in hearing.naming.inside and rest[:1].isupper()


def _without_kind(name: str | None, hearing: MatchContext) -> str | None:
    """ "Hanley field" is the field Hanley."""
    first, _, last = (name or "").rpartition(" ")
    return first if first and last == last.lower() and fold(last) in hearing.naming.generic else name


def _without_lead(name: str, hearing: MatchContext) -> str:
    """ "Field 12B" is the field 12B."""
    first, _, number = name.partition(" ")
    return number if fold(first) in hearing.naming.generic and number[:1].isdigit() else name


def person_told(hearing: MatchContext, before: Collection[str], text: str, knows: Knows) -> str | None:
    """The name of a person: known before, with a capital, or unknown."""
    known = next((name for name in before if _is_said(name, text, hearing)), None)
    return known or _first(hearing, text) or capitals(hearing, text, knows) or unknown(hearing, text, knows)


def _first(hearing: MatchContext, text: str) -> str | None:
    """A sentence's first word where it does something: "Luis is driving"."""
    first, second, *_ = (*text.split(), "", "")
    name = not_owning(first.strip(EDGES))
    plain = fold(name) in hearing.vocabulary.plain_words or fold(name) in hearing.naming.talk
    does = first.strip(EDGES) != name or fold(second.strip(EDGES)) in hearing.naming.does
    return name if name[:1].isupper() and does and not plain else None


def _coded(text: str, hearing: MatchContext) -> str | None:
    """A name with the strength that stands behind it, as in "Product A 20G", without a verb that begins the
    sentence."""
    found = _STRENGTH.search(text)
    first, _, rest = found[0].strip().partition(" ") if found else ("", "", "")
    begins = found is not None and not text[: found.start()].strip(EDGES)
    verb = begins and fold(first) in hearing.vocabulary.plain_words and rest[:1].isupper()
    return None if found is None else rest if verb else found[0].strip()


def code_in(text: str) -> str | None:
    """A lot's number as it is printed: letters, digits, hyphens; nothing where there are several."""
    found = [match[1] for match in _CODE.finditer(text)]
    return found[0].upper() if len(found) == 1 else None


def _led(hearing: MatchContext, text: str) -> str | None:
    """What follows words that lead to a name, up to the end of the clause and without what trails behind."""
    begins = starts(hearing)
    if not begins:
        return None
    said = hearing.text[hearing.tokens[_with_capital_article(hearing, max(begins))].start :]
    said = without_tail(_CLAUSE.sub("", said), hearing).strip(EDGES)
    return said if said and said in text and len(said.split()) <= MOST_WORDS else None


def _with_capital_article(hearing: MatchContext, begin: int) -> int:
    """Where a name begins: with its article where that has a capital, "le decimos La Loma"."""
    before = hearing.tokens[begin - 1].text if begin else ""
    return begin - 1 if 1 < len(before) <= LONGEST_ARTICLE and before.istitle() and begin > 1 else begin


def starts(hearing: MatchContext) -> list[int]:
    """The tokens at which a name may begin: those behind words that lead to one."""
    length = len(hearing.tokens)
    return [end for end in hearing.ends(hearing.naming.leads, *range(length)) if end < length]


def without_tail(said: str, hearing: MatchContext) -> str:
    """The words without those at the end that only say since when or where, such as "this year"."""
    return without_while(_before(said, hearing.naming.tails), hearing)


def without_replaced(said: str, hearing: MatchContext) -> str:
    """The words before those that say instead of what: "milo instead of corn"."""
    return _before(said, hearing.naming.against)


def _before(said: str, phrases: Sequence[str]) -> str:
    """The words before the first of these phrases."""
    places = [f"{fold(said)} ".find(f" {fold(one)} ") for one in phrases]
    return said[: min((place for place in places if place > 0), default=len(said))]


def without_while(said: str, hearing: MatchContext) -> str:
    """The words without those at the end that say only until when: "under a tarp till morning"."""
    bare = said.rstrip(EDGES)
    for words in sorted(hearing.naming.whiles, key=len, reverse=True):
        if len(bare) > len(words) and fold(bare[-len(words) - 1 :]) == f" {fold(words)}":
            return bare[: -len(words) - 1].rstrip(EDGES)
    return said
