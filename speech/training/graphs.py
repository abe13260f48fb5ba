"""The run-time graph of a model folder, with which a recogniser takes any list of the lexicon's words."""

from __future__ import annotations

import math
import os
import subprocess
import tempfile
from collections.abc import Mapping
from pathlib import Path

from speech.decoding.transducer import UNKNOWN, Transducer, Ways


def _piped(text: str, *commands: list[str]) -> bytes:
    """OpenFst's programs one after the other, the first fed with ``text``."""
    data = text.encode()
    for command in commands:
        data = subprocess.run(command, input=data, check=True, capture_output=True).stdout
    return data


def _plugins() -> dict[str, str]:
    """The environment in which OpenFst finds its look-ahead transducers, which Debian keeps apart."""
    found = sorted(Path("/usr/lib").glob("**/fst/*/olabel_lookahead-fst.so"))
    folders = [str(file.parent) for file in found] + [os.environ.get("LD_LIBRARY_PATH", "")]
    return {**os.environ, "LD_LIBRARY_PATH": ":".join(folder for folder in folders if folder)}


def words_in_any_order(lexicon: Mapping[str, Ways], unknown: tuple[float, float]) -> tuple[Transducer, dict[str, int]]:
    """A loop over all words and ``[unk]``, and the words' labels."""
    labels = {word: at + 1 for at, word in enumerate([*sorted(lexicon), UNKNOWN])}
    graph = Transducer()
    graph.wait(0)
    graph.final[0] = 0.0
    for word, ways in sorted(lexicon.items()):
        graph.say((0, 0), labels[word], ways)
    graph.anything((0, 0), labels[UNKNOWN], *unknown)
    return graph, labels


def as_text(graph: Transducer) -> str:
    """A graph in the form that OpenFst's compiler reads."""
    arcs = (
        f"{start}\t{end}\t{label}\t{word}\t{cost:.5f}\n"
        for start, leaving in enumerate(graph.arcs)
        for label, word, cost, end in leaving
    )
    return "".join((*arcs, *(f"{state}\t{cost:.5f}\n" for state, cost in graph.final.items())))


def write_run_time(folder: Path, lexicon: Mapping[str, Ways], unknown: tuple[float, float]) -> None:
    """``HCLr.fst``, ``Gr.fst``, ``words.txt`` and an empty ``disambig_tid.int``.

    Needs the OpenFst programs with their look-ahead plugin (Debian libfst-tools and libfst22-plugins-base).
    """
    graph, labels = words_in_any_order(lexicon, unknown)
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch:
        plain, pairs = Path(scratch) / "plain.fst", Path(scratch) / "pairs"
        plain.write_bytes(_piped(as_text(graph), ["fstcompile"], ["fstarcsort", "--sort_type=olabel"]))
        convert = ["fstconvert", "--fst_type=olabel_lookahead", f"--save_relabel_opairs={pairs}", str(plain)]
        subprocess.run([*convert, str(folder / "HCLr.fst")], check=True, env=_plugins())
        relabelled = {int(old): int(new) for old, new in map(str.split, pairs.read_text().splitlines())}
    ordered = sorted((relabelled[label], word) for word, label in labels.items())
    (folder / "words.txt").write_text("<eps> 0\n" + "".join(f"{word} {label}\n" for label, word in ordered))
    any_word = math.log(len(labels) + 1)
    loop = "".join(f"0\t0\t{label}\t{label}\t{any_word:.4f}\n" for label, _ in ordered) + f"0\t{any_word:.4f}\n"
    sort = ["fstarcsort", "--sort_type=ilabel"]
    (folder / "Gr.fst").write_bytes(_piped(loop, ["fstcompile"], sort, ["fstconvert", "--fst_type=const"]))
    (folder / "disambig_tid.int").write_text("")
