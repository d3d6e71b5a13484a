"""Gas of the alveoli: what dead space of an apparatus does to carbon dioxide, what is left of oxygen, and sizes of a body."""

from __future__ import annotations

from types import MappingProxyType

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome

BODY = 310.15
ICE = 273.15
ATMOSPHERE = 101325.0
WATER_AT_37 = "47 mmHg"


def _apparatus_dead_space(
    carbon_dioxide: float,
    rate: float,
    tidal_volume: float,
    anatomical: float,
    apparatus: float,
    pressure: float,
    vapour: float,
) -> Outcome:
    reaches = tidal_volume - anatomical - apparatus
    if reaches <= 1e-9 * tidal_volume:
        raise EngineeringError(
            f"apparatus-dead-space: {(anatomical + apparatus) * 1e3:.4g} mL of dead space leave nothing of a breath "
            f"of {tidal_volume * 1e3:.4g} mL",
            "give a larger breath or less dead space",
        )
    # Production is stated dry at 0 °C, volumes at body condition: 863 mmHg = 760 mmHg x 310.15 / 273.15.
    per_litre = carbon_dioxide * ATMOSPHERE * BODY / ICE / rate
    arterial, without = per_litre / reaches, per_litre / (tidal_volume - anatomical)
    alveolar = arterial / (pressure - vapour)
    values = {
        "arterial": arterial,
        "without": without,
        "tidal_volume_to_restore": tidal_volume + apparatus,
        "inspired": apparatus / tidal_volume * alveolar,
    }
    outside = ("the carbon dioxide would be more than all of the alveolar gas",) if alveolar >= 1 else ()
    return Outcome(
        values,
        (
            "carbon dioxide given off is taken dry at 0 °C (STPD), volumes at body condition (BTPS)",
            "a passive mass balance in its steady state: a breathing person compensates, a tired one does not",
        ),
        outside,
    )


_AT_REST = MappingProxyType(
    {
        "carbon_dioxide": "0.2 L/min",
        "rate": "14 1/min",
        "tidal_volume": "0.5 L",
        "anatomical": "0.15 L",
        "apparatus": "80 mL",
    }
)

APPARATUS_DEAD_SPACE = Model(
    name="apparatus-dead-space",
    title="what dead space of an apparatus does to carbon dioxide",
    formula="arterial = 863 mmHg carbon_dioxide / (rate (tidal_volume - anatomical - apparatus)); "
    "inspired = apparatus / tidal_volume arterial / (pressure - vapour)",
    source="alveolar ventilation equation; 863 mmHg = 760 mmHg 310.15 / 273.15",
    holds="steady state, breathing unchanged, dead space not flushed, alveolar gas and blood alike",
    givens=(
        Given("carbon_dioxide", "flow", "carbon dioxide given off", "L/min", low="0 L/min", high="3 L/min"),
        Given("rate", "frequency", "rate of breathing", "1/min", low="1 1/min", high="150 1/min"),
        Given("tidal_volume", "volume", "volume of each breath", "mL", low="1 mL", high="5 L"),
        Given("anatomical", "volume", "dead space of the body", "mL", low="0 mL", high="1 L"),
        Given("apparatus", "volume", "dead space of the apparatus", "mL", "0 mL", "0 mL", "5 L"),
        Given("pressure", "pressure", "pressure of the air", "hPa", "1013.25 hPa", "300 hPa", "1100 hPa"),
        Given("vapour", "pressure", "water vapour at body temperature", "mmHg", WATER_AT_37, "0 mmHg", "60 mmHg"),
    ),
    finds=(
        Found("arterial", "pressure", "mmHg", "pressure of carbon dioxide in the blood, passive balance"),
        Found("without", "pressure", "mmHg", "the same without the apparatus"),
        Found("tidal_volume_to_restore", "volume", "mL", "volume of a breath that restores it"),
        Found("inspired", "fraction", "percent", "mean inspired carbon dioxide"),
    ),
    function=_apparatus_dead_space,
    checks=(
        Check(_AT_REST, "without", "35.2 mmHg", "constructed", "hand-worked sheet M4", abs="0.05 mmHg"),
        Check(_AT_REST, "arterial", "45.7 mmHg", "constructed", "hand-worked sheet M4", abs="0.05 mmHg"),
        Check(_AT_REST, "tidal_volume_to_restore", "0.58 L", "constructed", "hand-worked sheet M4", rel=1e-9),
        Check(_AT_REST, "inspired", "1.0 %", "constructed", "hand-worked sheet M4", abs="0.05 %"),
        Check(
            {"carbon_dioxide": "200 mL/min", "rate": "10 1/min", "tidal_volume": "580 mL", "anatomical": "150 mL"},
            "arterial",
            "40.14 mmHg",
            "published",
            "alveolar ventilation equation, 0.863 x 200 / 4.3, relation read in a public copy of a textbook",
            abs="0.01 mmHg",
        ),
        Check(
            {**_AT_REST, "apparatus": "0 mL"},
            "inspired",
            "0 %",
            "limit",
            "no dead space of the apparatus, nothing is breathed again",
            abs="1e-9 %",
        ),
    ),
    example=_AT_REST,
    traps=(
        "Is the dead space measured by filling it with water, with a face in the mask?",
        "Is it flushed by a flow? Then it counts for less; measure.",
        "A child, or somebody who breathes fast and shallow?",
    ),
    aliases=("dead-space",),
)


def _alveolar_oxygen(
    fraction: float, carbon_dioxide: float, quotient: float, pressure: float, vapour: float
) -> Outcome:
    inspired = fraction * (pressure - vapour)
    alveolar = inspired - carbon_dioxide / quotient
    outside = ("there would be less than no oxygen in the alveoli",) if alveolar < 0 else ()
    return Outcome(
        {"alveolar": alveolar, "inspired": inspired},
        (
            "the short form of the equation: it is a little low with much oxygen",
            "a passive balance in its steady state, nothing about a person",
        ),
        outside,
    )


ALVEOLAR_OXYGEN = Model(
    name="alveolar-oxygen",
    title="pressure of oxygen in the alveoli",
    formula="alveolar = fraction (pressure - vapour) - carbon_dioxide / quotient",
    source="alveolar gas equation, short form",
    holds="steady state; inspired gas without carbon dioxide",
    givens=(
        Given("fraction", "fraction", "oxygen fraction of the inspired gas", "percent", low="0 %", high="100 %"),
        Given(
            "carbon_dioxide",
            "pressure",
            "pressure of carbon dioxide in the blood",
            "mmHg",
            low="0 mmHg",
            high="150 mmHg",
        ),
        Given(
            "quotient",
            "number",
            "respiratory quotient",
            default="0.8",
            low="0.6",
            high="1.3",
            asks="a respiratory quotient of 0.8 is taken",
        ),
        Given("pressure", "pressure", "pressure of the air", "hPa", "1013.25 hPa", "200 hPa", "1100 hPa"),
        Given("vapour", "pressure", "water vapour at body temperature", "mmHg", WATER_AT_37, "0 mmHg", "60 mmHg"),
    ),
    finds=(
        Found("alveolar", "pressure", "mmHg", "pressure of oxygen in the alveoli"),
        Found("inspired", "pressure", "mmHg", "pressure of oxygen in the inspired gas"),
    ),
    function=_alveolar_oxygen,
    checks=(
        Check(
            {"fraction": "21 %", "carbon_dioxide": "40 mmHg", "pressure": "760 mmHg"},
            "alveolar",
            "99.73 mmHg",
            "published",
            "alveolar gas equation at sea level, 0.21 x (760 - 47) - 40 / 0.8, textbook, from memory",
            abs="0.005 mmHg",
        ),
        Check(
            {"fraction": "21 %", "carbon_dioxide": "40 mmHg", "pressure": "760 mmHg"},
            "inspired",
            "149.73 mmHg",
            "published",
            "inspired oxygen at sea level, 0.21 x (760 - 47), textbook, from memory",
            abs="0.005 mmHg",
        ),
    ),
    example={"fraction": "21 %", "carbon_dioxide": "40 mmHg"},
)


def _body_size(height: float, sex: str, per_weight: float | None) -> Outcome:
    weight = (50.0 if sex == "male" else 45.5) + 0.91 * (height * 100 - 152.4)
    if weight <= 0:
        raise EngineeringError("body-size: the formula gives no weight for that height", "it is made for adults")
    values = {"weight": weight, "dead_space": 2.2e-6 * weight}
    if per_weight is not None:
        values["tidal_volume"] = per_weight * weight
    return Outcome(values, ("a size for choosing settings of a bench lung, not for setting anything on a person",))


BODY_SIZE = Model(
    name="body-size",
    title="predicted weight, dead space and volume of a breath of an adult, for settings of a bench lung",
    formula="weight = 50 kg (female 45.5 kg) + 0.91 kg (height / cm - 152.4); dead_space = 2.2 mL/kg weight; "
    "tidal_volume = per_weight weight",
    source="predicted body weight as in the ARDS Network trial (2000), from memory; dead space 2.2 mL/kg, textbook",
    holds="adults of 152 to 200 cm",
    givens=(
        Given("height", "length", "height", "cm", low="152.4 cm", high="200 cm", outside="marked"),
        Given("sex", "word", "formula", choices=("male", "female")),
        Given("per_weight", "mL/kg", "volume of a breath per weight", "mL/kg", "", "0 mL/kg", "20 mL/kg"),
    ),
    finds=(
        Found("weight", "mass", "kg", "predicted weight"),
        Found("dead_space", "volume", "mL", "dead space of the body"),
        Found("tidal_volume", "volume", "mL", "volume of a breath"),
    ),
    function=_body_size,
    checks=(
        Check(
            {"height": "175 cm", "sex": "male"},
            "weight",
            "70.566 kg",
            "published",
            "ARDS Network formula (2000), from memory",
            rel=1e-6,
        ),
        Check(
            {"height": "160 cm", "sex": "female"},
            "weight",
            "52.416 kg",
            "published",
            "ARDS Network formula (2000), from memory",
            rel=1e-6,
        ),
        *(
            Check(
                {"height": "175 cm", "sex": "male", "per_weight": f"{each} mL/kg"},
                "tidal_volume",
                f"{volume} mL",
                "published",
                "6 to 8 mL per kg of predicted weight, ARDS Network (2000), from memory",
                abs="0.05 mL",
            )
            for each, volume in ((6, 423.4), (8, 564.5))
        ),
        Check(
            {"height": "174.378022 cm", "sex": "male"},
            "dead_space",
            "154 mL",
            "published",
            "2.2 mL/kg x 70 kg, read in a public copy of a textbook",
            rel=1e-6,
        ),
    ),
    example={"height": "175 cm", "sex": "male", "per_weight": "6 mL/kg"},
)
