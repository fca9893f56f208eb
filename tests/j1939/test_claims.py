"""Address claims. Rules: SAE J1939-81. NAMEs: open data set SystemsCyber/CyberTruckResources, commit f434e585."""

from hypothesis import given
from hypothesis import strategies as st

from linkcheck.j1939 import Claims, Name

MS = 1_000_000
WINNER = bytes.fromhex("06 03 BF 01 00 00 00 10")
LOSER = bytes.fromhex("D0 6B 01 01 00 00 00 80")


def heard(*frames):
    claims = Claims()
    for frame in frames:
        claims.feed(*frame)
    return claims


def test_one_claim():
    (claim,) = heard((5 * MS, 0, WINNER)).claims()
    assert (claim.address, claim.name) == (0, Name.from_bytes(WINNER))
    assert (claim.count, claim.first_ns, claim.last_ns, claim.gap_min_ns) == (1, 5 * MS, 5 * MS, None)
    assert not claim.unacknowledged


def test_two_names_contest_an_address_and_the_lower_one_keeps_it():
    claims = heard((0, 0, LOSER), (80 * MS, 0, WINNER))
    (contest,) = claims.contests()
    assert (contest.address, contest.start_ns, contest.settled) == (0, 80 * MS, False)
    assert contest.names == (Name.from_bytes(WINNER), Name.from_bytes(LOSER))


def test_a_loser_that_moves_settles_the_contest():
    (contest,) = heard((0, 0, LOSER), (80 * MS, 0, WINNER), (200 * MS, 130, LOSER)).contests()
    assert contest.settled


def test_a_loser_that_cannot_claim_settles_the_contest():
    claims = heard((0, 0, LOSER), (80 * MS, 0, WINNER), (200 * MS, 254, LOSER))
    assert claims.contests()[0].settled
    (claim,) = claims.cannot_claim()
    assert claim.name == Name.from_bytes(LOSER)


def test_a_loser_that_comes_back_does_not():
    claims = heard((0, 0, LOSER), (80 * MS, 0, WINNER), (200 * MS, 254, LOSER), (900 * MS, 0, LOSER))
    assert not claims.contests()[0].settled


def test_several_that_cannot_claim_contest_nothing():
    assert heard((0, 254, LOSER), (1, 254, WINNER)).contests() == ()


def test_a_claim_repeated_every_600_microseconds_is_not_acknowledged():
    (claim,) = heard(*((n * 600_000, 33, WINNER) for n in range(200))).claims()
    assert (claim.count, claim.gap_min_ns, claim.longest_run) == (200, 600_000, 200)
    assert claim.unacknowledged


def test_claims_on_request_are_no_run():
    (claim,) = heard(*((n * 250 * MS, 33, WINNER) for n in range(20))).claims()
    assert (claim.longest_run, claim.unacknowledged) == (1, False)


def test_malformed_and_unlisted_are_counted():
    claims = Claims(max_claims=1)
    for frame in ((0, 0, b"\x01"), (0, 0, WINNER), (0, 1, WINNER)):
        claims.feed(*frame)
    assert (claims.malformed, claims.not_listed, len(claims.claims())) == (1, 1, 1)


@given(
    st.lists(
        st.tuples(
            st.integers(0, 10 * MS),
            st.integers(0, 255),
            st.one_of(st.sampled_from([WINNER, LOSER]), st.binary(max_size=9)),
        ),
        max_size=50,
    )
)
def test_every_claim_is_counted_and_every_contest_won_by_the_lowest(frames):
    claims = heard(*frames)
    assert sum(claim.count for claim in claims.claims()) + claims.malformed == len(frames)
    for contest in claims.contests():
        assert list(contest.names) == sorted(contest.names, key=lambda name: name.value)
        assert all(contest.names[0].wins_over(other) for other in contest.names[1:])
