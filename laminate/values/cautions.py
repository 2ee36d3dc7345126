"""Cautions of the laboratory, shown wherever its methods are."""

FURNACE = (
    "Furnace: burning resin gives harmful fume: exhaust running, door closed until it is cool.",
    (
        "Furnace: what is left is free fiber dust, which must not be breathed or blown about: move it "
        "covered, wear a mask and gloves. Carbon fiber dust also shorts electrical equipment."
    ),
    (
        "Furnace: keep PTFE (release film, tape, shims, liners) out of it: overheated it gives poisonous "
        "fume. The furnace and the crucibles are hot long after they stop glowing."
    ),
)
DIGESTION = (
    (
        "Digestion in hot acid or peroxide: trained staff only, under a running hood, with face shield, "
        "apron and gloves."
    ),
    (
        "Digestion: never in a closed vessel: gas must be able to leave. Peroxide goes in slowly, and never "
        "near solvents."
    ),
    "Digestion: spent acid and washings are waste for authorized disposal, not for the sink.",
)
