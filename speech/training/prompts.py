"""``python -m speech.training.prompts OUT SOUNDS``: recorded telephone prompts as clips with a ``transcripts.tsv``.

SOUNDS is the folder of one voice of Asterisk's prompts, of which only the names tell what is said: ``digits/7.gsm`` is
seven. The Mexican voice (Debian asterisk-core-sounds-es-g722, CC BY-SA 3.0, Copyright 2003-2010 Allison Smith) is
trained with, and so are two Italian ones (Debian asterisk-core-sounds-it-g722, CC BY 3.0, Copyright 2012 Carlo Flora;
asterisk-prompt-it-menardi-wav, CC BY-SA 3.0, Copyright 2006-2011 Marco Menardi and Paola Dal Zot). The Colombian one
(Debian asterisk-prompt-es-co, GPL-2.0, Avatar Ltda., July E. Jiménez) is for scoring alone. ``--joined`` puts words
together to numbers, which nobody recorded whole. Needs ffmpeg.
"""

from __future__ import annotations

import argparse
import random
import subprocess
from collections.abc import Iterator, Mapping
from pathlib import Path

import numpy as np
import soundfile

from speech.training.voices import RATE, Sound

_SMALL = [
    "cero",
    "uno",
    "dos",
    "tres",
    "cuatro",
    "cinco",
    "seis",
    "siete",
    "ocho",
    "nueve",
    "diez",
    "once",
    "doce",
    "trece",
    "catorce",
    "quince",
    "dieciséis",
    "diecisiete",
    "dieciocho",
    "diecinueve",
    "veinte",
    "veintiuno",
    "veintidós",
    "veintitrés",
    "veinticuatro",
    "veinticinco",
    "veintiséis",
    "veintisiete",
    "veintiocho",
    "veintinueve",
]
_TENS = "treinta cuarenta cincuenta sesenta setenta ochenta noventa".split()  # noqa: SIM905
_HUNDREDS = "doscientos trescientos cuatrocientos quinientos seiscientos setecientos ochocientos novecientos".split()  # noqa: SIM905
_MONTHS = "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre".split()  # noqa: SIM905
_DAYS = "domingo lunes martes miércoles jueves viernes sábado".split()  # noqa: SIM905
_ORDINALS = "primero segundo tercero cuarto quinto sexto séptimo octavo noveno décimo".split()  # noqa: SIM905
SAID = {
    **{f"digits/{number}": word for number, word in enumerate(_SMALL)},
    **{f"digits/{30 + 10 * at}": word for at, word in enumerate(_TENS)},
    **{f"digits/{200 + 100 * at}": word for at, word in enumerate(_HUNDREDS)},
    **{f"digits/mon-{at}": word for at, word in enumerate(_MONTHS)},
    **{f"digits/day-{at}": word for at, word in enumerate(_DAYS)},
    **{f"digits/h-{at + 1}": word for at, word in enumerate(_ORDINALS)},
    "digits/100-and": "ciento",
    "digits/hundred": "cien",
    "digits/thousand": "mil",
    "digits/today": "hoy",
    "digits/tomorrow": "mañana",
    "digits/yesterday": "ayer",
    "digits/minus": "menos",
    "digits/and": "y",
    "vm-and": "y",
    "minutes": "minutos",
    "seconds": "segundos",
    "hours": "horas",
    "letters/plus": "más",
}
"""What each file says; those of which the name leaves a doubt are left out."""
_ITALIAN = (
    "uno due tre quattro cinque sei sette otto - dieci undici dodici tredici quattordici quindici sedici diciassette "
    "diciotto"
)
ITALIAN = {
    **{f"digits/{at + 1}": word for at, word in enumerate(_ITALIAN.split()) if word != "-"},
    **{
        f"digits/{30 + 10 * at}": word
        for at, word in enumerate(["trenta", "quaranta", "cinquanta", "sessanta", "settanta", "ottanta"])
    },
    "digits/hundred": "cento",
    "digits/thousand": "mille",
    "minutes": "minuti",
    "seconds": "secondi",
    "hours": "ore",
    "digits/mon-3": "aprile",
    "digits/mon-7": "agosto",
    "digits/mon-8": "settembre",
    "digits/mon-9": "ottobre",
    "digits/mon-11": "dicembre",
}
NUMBERS = frozenset({*_SMALL, *_TENS, *_HUNDREDS, "ciento", "cien", "mil"})
PAUSE_S = (0.0, 0.06)
TRIM = 0.02


def words(sounds: Path, said: Mapping[str, str] = SAID) -> dict[str, Sound]:
    """Each word that a voice has, without the silence around it, 16 kHz mono."""
    found = (path for path in sorted(sounds.rglob("*")) if path.suffix in (".gsm", ".g722", ".wav"))
    files = {path.relative_to(sounds).with_suffix("").as_posix(): path for path in found}
    return {word: _trimmed(_read(files[name])) for name, word in said.items() if name in files}


def _read(file: Path) -> Sound:
    form = ["-f", file.suffix[1:]]
    command = ["ffmpeg", "-v", "error", *form, "-i", str(file), "-ar", str(RATE), "-ac", "1", "-f", "f32le", "-"]
    return np.frombuffer(subprocess.run(command, check=True, capture_output=True).stdout, dtype="<f4")


def _trimmed(sound: Sound) -> Sound:
    loud = np.flatnonzero(np.abs(sound) > TRIM * np.abs(sound).max())
    return sound[max(loud[0] - 400, 0) : loud[-1] + 600]


def joined(known: Mapping[str, Sound], count: int, digits: bool, seed: int = 5) -> Iterator[tuple[str, Sound]]:
    """Numbers of two to four words, or digits one by one, put together from words."""
    rng = random.Random(seed)
    for _ in range(count):
        said = _of_digits(rng) if digits else rng.choice((_of_tens, _of_hundreds))(rng, known)
        parts = []
        for word in said:
            parts += [known[word] / max(float(np.abs(known[word]).max()), 1e-4), np.zeros(_pause(rng), np.float32)]
        yield " ".join(said), np.concatenate(parts).astype(np.float32)


def _pause(rng: random.Random) -> int:
    return int(rng.uniform(*PAUSE_S) * RATE)


def _of_tens(rng: random.Random, known: Mapping[str, Sound]) -> list[str]:
    return [rng.choice(_TENS), "y", rng.choice(_SMALL[1:10])] if "y" in known else [rng.choice(_TENS)]


def _of_hundreds(rng: random.Random, known: Mapping[str, Sound]) -> list[str]:
    hundreds = [word for word in ("ciento", *_HUNDREDS) if word in known]
    return [rng.choice(hundreds), *_of_tens(rng, known)] if hundreds else _of_tens(rng, known)


def _of_digits(rng: random.Random) -> list[str]:
    return [rng.choice(_SMALL[:10]) for _ in range(rng.randint(2, 4))]


def write(out: Path, voice: str, group: str, clips: Iterator[tuple[str, Sound]]) -> int:
    """WAV files and their table; gives how many."""
    out.mkdir(parents=True, exist_ok=True)
    lines = ["file\tset\ttext\tkind\tspeaker"]
    for at, (text, sound) in enumerate(clips):
        name = f"{group}-{at:03}.wav"
        soundfile.write(out / name, sound / max(float(np.abs(sound).max()), 1e-4) * 0.6, RATE)
        lines.append("\t".join((name, group, text, "recorded", voice)))
    (out / "transcripts.tsv").write_text("\n".join([*lines, ""]), encoding="utf-8")
    return len(lines) - 1


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("out", type=Path)
    arguments.add_argument("sounds", type=Path)
    arguments.add_argument("--group", default="prompts")
    arguments.add_argument("--joined", type=int, help="so many numbers put together, in place of the words alone")
    arguments.add_argument("--digits", action="store_true", help="with --joined: digits one by one")
    arguments.add_argument("--numbers", action="store_true", help="number words alone")
    arguments.add_argument("--italian", action="store_true", help="the words of an Italian voice")
    given = arguments.parse_args()
    known = words(given.sounds, ITALIAN if given.italian else SAID)
    chosen = {word: sound for word, sound in known.items() if word in NUMBERS} if given.numbers else known
    clips = joined(known, given.joined, given.digits) if given.joined else iter(chosen.items())
    print(write(given.out, given.sounds.name, given.group, clips), "clips")


if __name__ == "__main__":
    main()
