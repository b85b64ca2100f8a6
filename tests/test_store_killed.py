"""A program that is killed while it saves: what it had saved is whole, and nothing half-saved is to be seen."""

from at_once import at_once, saves_until_killed
from filled import draft, jpeg

from measure.record.entries import Kind, Side, Site
from measure.record.store import open_record
from measure.record.stripping import strip

KILLS = 200


def check_whole(record, visit, wound):
    """See that a visit has all that `draft` gives it, to the last digit; return which one it is."""
    number = int(visit.notes[0].text)
    wanted = draft(wound, visit.photos[0], number % 30)
    assert (visit.at, visit.by, visit.unit) == (wanted.at, wanted.by, wanted.unit) or not number
    assert visit.found == dict(wanted.findings)
    assert [rings(entry.outline) for entry in visit.outlines] == [rings(each.outline) for each in wanted.outlines]
    assert visit.measurement.outline is visit.outlines[1]
    assert visit.measurement.document == wanted.measured.document
    assert record.photo_bytes(visit.photos[0].sha256) == strip(jpeg(number)).data
    return number


def rings(outline):
    return [ring.tolist() for ring in (outline.exterior, *outline.holes)]


def test_what_was_saved_before_a_kill_is_whole(tmp_path):
    """200 kills at random moments; nothing that was noted as saved is missing, nothing is there in part or twice."""
    record = open_record(tmp_path)
    wound = record.open_wound("P014", Site(Side.LEFT, "heel"), Kind.PRESSURE, "AB")
    (kills,) = at_once(saves_until_killed, (tmp_path, KILLS, 14))
    found = {visit.id: check_whole(record, visit, wound) for visit in record.visits(wound.id)}
    assert len(set(found.values())) == len(found)
    saved = [each for noted, _, _ in kills for each in noted]
    assert len(kills) == KILLS
    assert len(saved) >= KILLS
    assert set(saved) <= set(found.items())
    counts = [1, *(count for _, count, _ in kills)]
    for (noted, count, sound), before in zip(kills, counts, strict=False):
        assert sound == [("ok",)]
        assert count - before - len(noted) in {0, 1}, "saved, and killed before it could be noted: one at most"
    assert len(list(tmp_path.rglob("*.jpg"))) > len(found), "some kills came between photo and visit"
    record.close()
