"""Numbers in a text that no unit stands behind."""

from __future__ import annotations

import re

UNITS = (
    "ΔE|ΔC|ΔL|Δa|Δb|L[*]|%|°|D\\b|nm|mm|MB|s\\b|×|"
    # English
    "hours?|days?|minutes?|seconds?|inch|square|metres?|patch|odd patch|sheets?|failed|checks?|colour checks?|files?|"
    "notices?|readings?|figures?|more|other|conditions?|printing|people|cases?|charts?|degrees|reports?|warnings|rows?|"
    "strips?|times|sigma|of them|places?|cells?|"
    # German
    "Stunden?|Tagen?|Tage?|Minuten?|Sekunden?|Zoll|Quadratmeter|Meter|Messfeld|einzelne|auffällig|Bogen|Prüfung|"
    "Farbprüfung|nicht bestand|fehlgeschlagen|Datei|Meldung|Messung|Werte?\\b|weitere|andere|Bedingung|Druckbeding|"
    "Personen|Fall\\b|Fällen?\\b|Testcharts?|Grad|Sigma|davon|Stellen?|Zellen?|mal\\b|Ereignisdatei|"
    # French
    "heures?|jours?|minutes?|secondes?|pouces?|mètres?|plage|feuilles?|contrôles?|échecs?|fichiers?|avis|mesures?|"
    "valeurs?|autres?|conditions|personnes|cas\\b|chartes?|degrés|fois|cellules?|places?|d'entre|événements?"
)
"""What may stand behind a number: a unit, or what is counted."""

NAMED = (
    r"\d{4}-\d\d-\d\d(?: \d\d:\d\d(?: [A-Z]+)?)?",  # days and times in English
    r"\d{1,2}\.\d{1,2}\.\d{4}|\d{1,2}\. \w+ \d{4}|\d{1,2} [a-zûé.]+ \d{4}",  # German and French
    r"\d{1,2}:\d\d(?: [A-Z]+)?",
    r"[\w./-]+\.(?:txt|csv|jsonl)",  # file names
    r"case-[\w.-]+|cases? \d+|ack [\d ]+|(?:Fall|Fälle) \d+|cas \d+|dossier \d+",  # numbers of cases, and their keys
    r"(?:Satin|Matte|Gloss|Cotton|Board) \d+|[a-z]+/[a-z0-9-]+(?:/[a-z]+)?|sheet-\d",  # stocks, conditions of samples
    r"--check \d+|curves \d+|check \d+|Prüfung \d+|contrôle \d+|rules \d+|Regeln \d+|règles \d+",  # and of checks
    r"M[0-3]\b|D50(?:/2)?|CIE\w*|UTF-8|(?:[Ii]nstrument|Messgeräts?|Messgerät) 4711",  # names of the trade
    r"95th percentile|95\. Perzentil|95e (?:per)?centile",
    r"^\d+\. |(?<=\n)\d+\. ",  # steps in their order
    r"(?:[Rr]ows?|lines?|column|Zeilen?|Spalte|lignes?|colonne|rangées?|Reihen?|Datenzeilen?|Platz|rang) \d+"
    r"(?: (?:to|bis|à) (?:la ligne )?\d+)?",
    r"(?:row has|hat aber|en a) \d+",  # of cells, which stand before it
    r"\w+\.toml:\d+:\d+|URL \d|exited \d|checks \d+(?:, \d+)*",  # places, and numbers that are names
    r"[\d: -]*…$",  # what was cut
)
_NAMED = re.compile("|".join(f"(?:{each})" for each in NAMED), re.MULTILINE)
_NUMBER = re.compile(r"(?<![\w.,-])[-+]?\d+(?:[.,]\d+)?(?![\w.,]*\d)")
_BEHIND = re.compile(rf"[\s\u00a0]?(?:{UNITS})")
_RANGE = re.compile(rf"[\s\u00a0]?(?:to|bis|à|and|und|et) [-+]?\d+(?:[.,]\d+)?[\s\u00a0]?(?:{UNITS})")


def without_unit(text: str) -> list[str]:
    """Each number without a unit, with the word behind it."""
    text = _NAMED.sub("#", re.sub(r"ΔE\d\d", "ΔE", text).replace("CMC(2:1)", "CMC"))
    found = []
    for number in _NUMBER.finditer(text):
        rest = text[number.end() :]
        if not _BEHIND.match(rest) and not _RANGE.match(rest):
            found.append(" ".join([number[0], *rest.split()[:1]]))
    return found
