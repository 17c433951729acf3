"""The cautions of the trade, each shown where the work it bears on is shown («common practice»)."""

DEFER = "The product's data sheet, local air and waste rules and licensed practice come before anything said here."
ISOCYANATES = "Two-pack paints carry isocyanates: spray them only with air-fed breathing protection in a proper booth."
SOLVENTS = "Solvents and their vapour burn and intoxicate: ventilate, keep sparks and flames away, wear gloves."
OLD_PAINT = "Period paint may hold lead or chromate: test before sanding, and never dry-sand it unprotected."
DUST = "Sanding dust harms the lungs and can burn: wet-sand or extract, and wear a fitted mask."

MIXING = (SOLVENTS, DEFER)
SPRAYING = (ISOCYANATES, SOLVENTS, DEFER)
SANDING = (OLD_PAINT, DUST, DEFER)
REWORK = (OLD_PAINT, DUST, ISOCYANATES, SOLVENTS, DEFER)
