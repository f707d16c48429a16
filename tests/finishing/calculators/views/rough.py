"""What people and machines type into a box that asks for something else."""

import random

ROUGH = (
    "", " ", "0", "-1", "−5", "1e999", "1e-9", "nan", "inf", "Infinity", "-0", "12,5", "1.2.3", "5 %", "3 mil", "68 °F",
    "9" * 60, "9**9**9", "٣", "½", "²", "\x00", "<b>", "'; --", "𝟙", "L", "0x10", "1 2 3", "true", "None", "5 bananas",
    "100000",
    "0.0001", "999", "#12345g", "2e3 L", "1 L NaN", "1 L 1e9\n2 L 1", "00000000-0000-0000-0000-000000000000",
)  # fmt: skip


def rough_answers(boxes, times, seed, usual):
    """So many forms in which some boxes are as usual and some are rough."""
    chance = random.Random(seed)
    for _ in range(times):
        yield {
            name: usual.get(name, "") if chance.random() < 0.5 else chance.choice(ROUGH)
            for name in boxes
            if chance.random() < 0.95
        }
