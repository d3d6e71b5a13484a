"""Words that the project may not use as a claim of its own, and what to say instead. Data for the wording rules.

English in full; in other languages the words that a builder's page would most likely carry.
"""

from __future__ import annotations

OFFER = "say what was measured: meets limit L on unit U, date D"

CLAIMS: tuple[str, ...] = (
    r"(?:completely |fully |entirely |totally |perfectly |very |proven |now )?safe(?:ly|r|st)?(?: to use| for use| for people| for patients)?",
    r"safety[- ](?:approved|certified|proven|tested)",
    r"(?:pre-?)?approved|approval(?= (?:by|of|from|was|is|has))",
    r"certified|certification(?= (?:by|of|from|was|is|has))",
    r"compliant|compliance with|in compliance|complies with|comply with",
    r"conforms? to|conforming to|in conformity with|conformity with|meets? (?:the )?(?:requirements of )?(?:ISO|IEC|EN|DIN|ASTM|UL)\b",
    r"cleared(?= (?:by|for|as))|regulatory clearance",
    r"medical[- ]grade|hospital[- ]grade|clinical[- ]grade",
    r"clinically (?:proven|tested|validated|effective)",
    r"(?:acceptable|tolerable|negligible) (?:residual )?risks?|risks? (?:is|are) (?:acceptable|tolerable|negligible)",
    r"risk[- ]free|harmless|fool-?proof|guaranteed",
    r"ungefährlich|zugelassen|zertifiziert|unbedenklich|medizinisch geprüft|(?:völlig |ganz )?sicher (?:für|zu|in der)",
    r"homologué|approuvé|certifié|sans danger|(?:est|sont) sûre?s?",
    r"aprobado|certificado por|(?:es|son) seguros?|es segura|sin peligro",
    r"aprovado|seguro para|sem perigo",
    r"godkjent|sertifisert|(?:er )?trygg (?:å|for|i)|ufarlig",
)
"""Regular expressions, matched as whole words whatever their case."""

PERMISSIONS: tuple[str, ...] = (
    r"(?:ready|fit|suitable|released?|cleared|good enough) for (?:use|clinical use|patients?|people|persons?|human use|humans|hospital use|treatment)",
    r"(?:clinical|human|patient|hospital) use(?= gate)?",
    r"(?:for|in|of) clinical (?:use|trials?)",
    r"(?:trials?|tests?|tested|testing|study|studies|use[ds]?) on (?:a |the |live |living |real |human |healthy )*(?:volunteers?|patients?|humans?|people|persons?)",
    r"(?:use|used|using) (?:it )?(?:with|for) (?:a |the |real |first )*(?:patients?)",
    r"first[- ]in[- ]human|human (?:trials?|tests?|subjects?)",
    r"may be used on (?:a |the )?(?:person|people|patients?)",
    r"am patienten|an patienten|am menschen|für patienten (?:bereit|geeignet)|klinischer? (?:einsatz|gebrauch)",
    r"usage clinique|sur (?:le |un |des )?patients?|prêt pour les patients",
    r"uso clínico|en pacientes|listo para pacientes|ensayo con voluntarios",
    r"uso clínico|em pacientes|pronto para pacientes",
    r"klinisk bruk|på pasienter|klar for pasienter|forsøk på frivillige",
)

ADVICE: tuple[str, ...] = (
    r"recommended (?:pressure|rate|flow|oxygen flow|setting|dose|duration|alarm limit)s?",
    r"(?:set|start|increase|decrease|titrate) (?:the )?(?:PEEP|CPAP|IPAP|EPAP|FiO2|oxygen|pressure|rate) (?:to|at|with|until) \d[\d.]*",
    r"(?:give|treat|ventilate) (?:the |a |your )?(?:patient|person|child|adult)s?",
    r"(?:for|in) (?:adults?|children|infants|patients) (?:use|set|choose) \d[\d.]*",
)

GRADES: tuple[str, ...] = (
    r"safety (?:level|score|rating|grade|index)",
    r"\d{1,3}(?:\.\d+)? ?% (?:complete|safe|done|ready)",
    r"(?:overall|total) (?:risk|safety) (?:score|number|rating)",
)

PEOPLE: tuple[str, ...] = (
    r"(?:patient|volunteer)(?:'s)? (?:initials|name|age|weight|birthday|record)",
    r"(?:date of birth|born on) \S+",
    r"(?:volunteer|patient|colleague|tester)s? (?:breathed|wore|was ventilated|inhaled)",
    r"(?:tested|tried|worn|breathed) (?:it )?(?:on|by) (?:myself|himself|herself|ourselves|me\b)",
    r"(?-i:(?:Mr|Mrs|Ms|Herr|Frau)\.? [A-Z]\w+)",  # in capitals: `5 ms that` is a time
    r"[\w.+-]+@[\w-]+\.\w{2,}",
)
