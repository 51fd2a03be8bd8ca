"""What is refused says why in a sentence and carries its facts."""

from core.errors import NotAllowed, NotFound, Refused


def test_a_refusal_keeps_its_sentence_code_field_and_facts():
    refused = Refused("Acres lie above 0.", code="acres", field="acres", acres=-1)
    assert (str(refused), refused.sentence) == ("Acres lie above 0.", "Acres lie above 0.")
    assert (refused.code, refused.field, refused.facts) == ("acres", "acres", {"acres": -1})


def test_the_two_kinds_have_codes_of_their_own():
    assert NotAllowed("A viewer looks only.", role="viewer").code == "not_allowed"
    assert NotFound().code == "not_found"
    assert NotFound().sentence == "Not found in this holding."
