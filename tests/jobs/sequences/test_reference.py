import pytest

from jobs.sequences import SequenceError, read_reference

SOURCES = '[common-practice]\ntitle = "Trade"\npublisher = ""\nyear = "undated"\nworth = "common practice"\n'
OPERATIONS = """
[observation]
[limit]
[machine]
[material]
[operation.burn]
name = "Burn"
do = "burn"
doing = "burning"
done = "burned"
weather = true
hazards = ["fire"]
duration = { minutes = 60, worth = "common practice" }
"""
CAUTIONS = '[fire]\nlines = ["Two people.", "Water."]\ndecides = "Local code decides."\nsource = "common-practice"\n'
CROPS = '[corn]\nname = "Corn"\ndegree_days = "86/50"\n'
VALUE = '[corn.values]\nemergence = { low = 100, high = 120, unit = "degree_days", source = "common-practice" }\n'


def test_words_are_read_with_the_worth_of_their_source():
    reference = read_reference(SOURCES, OPERATIONS, CAUTIONS, CROPS + VALUE)
    (emergence,) = reference.crops["corn"].values
    assert (emergence.low, emergence.high, emergence.worth) == (100, 120, "common practice")
    assert reference.operations["burn"].duration.minutes == 60


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda: (SOURCES, OPERATIONS, "", CROPS), "hazard fire without cautions"),
        (lambda: (SOURCES.replace('"common practice"', '"sure"'), OPERATIONS, CAUTIONS, CROPS), "the worth 'sure'"),
        (lambda: (SOURCES, OPERATIONS.replace('["fire"]', '["bees"]'), CAUTIONS, CROPS), "unknown hazard 'bees'"),
        (
            lambda: (SOURCES, OPERATIONS, CAUTIONS, CROPS + VALUE.replace("common-practice", "hearsay")),
            "the source 'hearsay' is unknown",
        ),
        (lambda: (SOURCES, OPERATIONS, CAUTIONS, CROPS + VALUE.replace("120", "90")), "100 lies above 90"),
        (
            lambda: (SOURCES, OPERATIONS + 'machines = ["dragon"]\n', CAUTIONS, CROPS),
            "takes 'dragon', which is no known machine or material",
        ),
    ],
)
def test_a_fault_in_the_reference_is_told(change, told):
    with pytest.raises(SequenceError, match=told):
        read_reference(*change())
