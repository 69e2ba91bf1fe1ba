"""How large a WebP says it is, read from its head alone (RFC 9649, 2.6 and 2.7, RFC 6386, 9.1)."""


def webp_size(data: bytes) -> tuple[int, int] | None:
    """Width and height in px of the canvas; None where the bytes are no WebP."""
    if len(data) < 30 or data[:4] != b"RIFF" or data[8:12] != b"WEBP":
        return None
    match data[12:16]:
        case b"VP8X":
            return _whole(data[24:27]) + 1, _whole(data[27:30]) + 1
        case b"VP8L":
            both = _whole(data[21:25])
            return (both & 0x3FFF) + 1, (both >> 14 & 0x3FFF) + 1
        case b"VP8 ":
            return _whole(data[26:28]) & 0x3FFF, _whole(data[28:30]) & 0x3FFF
    return None


def _whole(part: bytes) -> int:
    return int.from_bytes(part, "little")
