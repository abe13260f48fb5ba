"""Labels of products that are kept as photos or files: which there are, and which one is meant."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass

from engine.dialog.facts.register import folded_name, named_in, same_name, spaced
from engine.dialog.facts.role_values import as_word
from engine.dialog.facts.state import ConversationState
from engine.dialog.schema.slot_roles import Phase, Role
from engine.document import Document, having

TELLING = 3
"""A word of so many letters or digits tells one name from others, a shorter one does not (own decision)."""


@dataclass(frozen=True)
class ProductLabel:
    """What is kept of the label of a product, in the order in which it came."""

    product: str
    registration: str | None
    documents: tuple[Document, ...]

    @property
    def mark(self) -> str:
        """Names the product in a few signs, however long its name is."""
        return hashlib.sha256(str(folded_name(self.product)).encode()).hexdigest()[:12]


@dataclass(frozen=True)
class SeveralLabels:
    """Any of these may be meant."""

    labels: tuple[ProductLabel, ...]


@dataclass(frozen=True)
class NoLabel:
    """None is kept of this product; ``others`` are."""

    product: str
    others: tuple[ProductLabel, ...]


@dataclass(frozen=True)
class EmptyShelf:
    """None is kept, and no product is named."""


@dataclass(frozen=True)
class UnknownProduct:
    """No product is known by the words that were said; ``others`` are the labels that are kept."""

    others: tuple[ProductLabel, ...]


MeantLabel = ProductLabel | SeveralLabels | NoLabel | EmptyShelf | UnknownProduct


@dataclass(frozen=True)
class LabelShelf:
    """The labels that are kept, of the product that was named last first; ``products`` are all that are known."""

    kept: tuple[ProductLabel, ...]
    products: tuple[str, ...]
    in_hand: str | None

    def of(self, product: str) -> ProductLabel | None:
        """What is kept of a product."""
        return next((one for one in self.kept if same_name(one.product, product)), None)

    def meant(self, said: str) -> MeantLabel:
        """The label that is asked for in these words; of the product in hand where there are none."""
        if not spaced(said).strip():
            return self._unnamed()
        marked = next((one for one in self.kept if one.mark == said.strip()), None)
        named = named_in(self.products, said)
        return marked or (self._of_known(named) if named else self._nearly(said))

    def _unnamed(self) -> MeantLabel:
        if self.in_hand is not None:
            return self._of_known(self.in_hand)
        if len(self.kept) > 1:
            return SeveralLabels(self.kept)
        return self.kept[0] if self.kept else EmptyShelf()

    def _of_known(self, product: str) -> ProductLabel | NoLabel:
        return self.of(product) or NoLabel(product, self.kept)

    def _nearly(self, said: str) -> MeantLabel:
        """A part of a name is enough where one product alone has it."""
        words = {word for word in spaced(said).split() if len(word) >= TELLING}
        near = [one for one in self.products if words & {*spaced(one).split()}]
        if len(near) == 1:
            return self._of_known(near[0])
        kept = tuple(one for one in self.kept if one.product in near)
        return SeveralLabels(kept) if kept else UnknownProduct(self.kept)


def label_shelf(state: ConversationState) -> LabelShelf:
    """The labels that a conversation knows, with those of the product that is being told."""
    kept = {folded_name(one.product): one for one in _labels(state)}
    told = (*state.book.things.names(Role.PRODUCT), *(one.product for one in kept.values()))
    named = {folded_name(one): one for one in told}
    return LabelShelf(tuple(kept.values()), tuple(named.values()), product_in_hand(state))


def product_in_hand(state: ConversationState) -> str | None:
    """The product that is handled now, else the one that was last; None where that is not known."""
    dialog = state.dialog if state.dialog and state.dialog.phase is not Phase.RECORD else None
    planned = as_word((dialog.of(Role.PRODUCT) if dialog else None) or state.book.of(Role.PRODUCT))
    return dialog.activity.product(planned) if dialog and dialog.activity else planned


def _labels(state: ConversationState) -> Iterator[ProductLabel]:
    things, dialog = state.book.things, state.dialog
    told = as_word(dialog.of(Role.PRODUCT)) if dialog else None
    if dialog and told and dialog.documents:
        known = things.of(Role.PRODUCT, told)
        documents = having(known.documents if known else (), dialog.documents)
        number = dialog.of(Role.REGISTRATION) or things.known(Role.PRODUCT, told).get(Role.REGISTRATION)
        yield ProductLabel(told, as_word(number), documents)
    for one in reversed(things.entries.get(Role.PRODUCT, ())):
        if one.documents and not same_name(told if dialog and dialog.documents else None, one.name):
            yield ProductLabel(one.name, as_word(one.values.get(Role.REGISTRATION)), one.documents)
