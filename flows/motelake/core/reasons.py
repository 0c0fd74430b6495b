"""Why a line or a reading was rejected: closed lists."""

from enum import StrEnum


class LineReason(StrEnum):
    """Why a whole line was rejected: the first check that failed, in the order in which they are made."""

    TRUNCATED = "truncated"
    LINE_TOO_LONG = "line_too_long"
    NOT_UTF8 = "not_utf8"
    NOT_JSON = "not_json"
    NOT_AN_OBJECT = "not_an_object"
    BAD_RECORD = "bad_record"
    NO_MOTE = "no_mote"
    BAD_MOTE_NAME = "bad_mote_name"
    UNKNOWN_MOTE = "unknown_mote"
    NO_RECEIVED_AT = "no_received_at"
    BAD_RECEIVED_AT = "bad_received_at"
    OUTSIDE_CAMPAIGN = "outside_campaign"
    BAD_SEQ = "bad_seq"
    BAD_GATEWAY_NAME = "bad_gateway_name"
    NO_READINGS = "no_readings"


class ReadingReason(StrEnum):
    """Why a single reading was rejected while the rest of its burst stayed."""

    NOT_A_NUMBER = "not_a_number"
    NOT_FINITE = "not_finite"
    UNIT_MISMATCH = "unit_mismatch"
