"""Normal forms under which plates, names, telephone numbers and printed numbers are kept and found."""

from __future__ import annotations

import re
import unicodedata

import phonenumbers

from shopserv.common.errors import Refusal


def folded(text: str) -> str:
    """Letters without accents and case, single blanks: "Olmárez  B." is "olmarez b."."""
    # Control and format signs go too: one engine takes no zero byte even in a question.
    parts = unicodedata.normalize("NFKD", " ".join(text.split()))
    plain = "".join(c for c in parts if not unicodedata.combining(c) and unicodedata.category(c)[0] != "C")
    return re.sub(r"\s+", " ", plain).strip().casefold()


def plate_form(text: str) -> str:
    """A plate as compared: capitals and digits alone, "brw 4471" is "BRW4471"."""
    return re.sub(r"[^A-Z0-9]", "", folded(text).upper())


def number_form(text: str) -> str:
    """A printed or own number as compared: capitals, digits and hyphens, "brw-q-118 " is "BRW-Q-118"."""
    return re.sub(r"[^A-Z0-9-]", "", folded(text).upper())


def digits(text: str) -> str:
    """The digits of `text` alone."""
    return re.sub(r"\D", "", text)


def phone_form(text: str, country: str = "US") -> str:
    """A telephone number in E.164, with its extension: "+49 (0)30 901820 ext. 12" is "+4930901820 ext 12".

    country   whose national form is understood
    raises    Refusal for what cannot be a number
    source    ITU-T E.164, by the phonenumbers library
    """
    if not re.fullmatch(r"[\d\s()+./-]*(?:(?:ext\.?|x)\s*\d{1,6})?", text.strip(), re.IGNORECASE):
        raise Refusal(
            f"“{text}”: a telephone number has digits, blanks, +, -, (), and ext. before an extension.",
            code="phone.invalid",
            field="phone",
        )
    too_short = f"“{text}” is too short or too long for a telephone number. Give it with its area code."
    try:
        number = phonenumbers.parse(text, country)
    except phonenumbers.NumberParseException as cause:
        raise Refusal(too_short, code="phone.invalid", field="phone") from cause
    if not phonenumbers.is_possible_number(number):
        raise Refusal(too_short, code="phone.invalid", field="phone")
    extension, number.extension = number.extension, None
    main = str(phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164))
    return f"{main} ext {extension}" if extension else main
