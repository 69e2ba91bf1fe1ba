"""The tables of the stock file. What must never happen is refused by the file itself, whatever
program writes to it: no movement is changed, no piece falls below nothing, nothing is booked twice.
"""

from nestplan.stock.book import KINDS

APPLICATION = 0x6E705354  # marks the file as a stock of ours
VERSION = 1

_LEFT = """
(SELECT COALESCE(SUM(CASE WHEN target = {piece} THEN length_um ELSE 0 END)
               - SUM(CASE WHEN source = {piece} THEN length_um ELSE 0 END), 0)
 FROM movement WHERE source = {piece} OR target = {piece})
"""
_WHOLE = "CHECK (typeof({0}) = 'integer' AND {0} >= {1})"

TABLES = (
    f"""CREATE TABLE piece (
        id TEXT PRIMARY KEY NOT NULL,
        film TEXT NOT NULL,
        width_um INTEGER NOT NULL {_WHOLE.format("width_um", 1)},
        parent TEXT REFERENCES piece (id),
        note TEXT NOT NULL)""",
    f"""CREATE TABLE movement (
        no INTEGER PRIMARY KEY AUTOINCREMENT,
        at TEXT NOT NULL,
        kind TEXT NOT NULL CHECK (kind IN ({", ".join(f"'{kind}'" for kind in KINDS)})),
        source TEXT NOT NULL,
        target TEXT NOT NULL CHECK (target <> source),
        length_um INTEGER NOT NULL {_WHOLE.format("length_um", 0)},
        plan TEXT,
        reason TEXT NOT NULL,
        once TEXT UNIQUE)""",
    "CREATE INDEX movement_source ON movement (source)",
    "CREATE INDEX movement_target ON movement (target)",
    f"""CREATE TABLE span (
        no INTEGER PRIMARY KEY AUTOINCREMENT,
        piece TEXT NOT NULL REFERENCES piece (id),
        kind TEXT NOT NULL CHECK (kind IN ('defect', 'splice')),
        from_um INTEGER NOT NULL {_WHOLE.format("from_um", 0)},
        to_um INTEGER NOT NULL CHECK (to_um > from_um),
        after INTEGER NOT NULL,
        note TEXT NOT NULL,
        cleared INTEGER NOT NULL DEFAULT 0 CHECK (cleared IN (0, 1)))""",
    f"""CREATE TABLE reservation (
        no INTEGER PRIMARY KEY AUTOINCREMENT,
        plan TEXT NOT NULL,
        piece TEXT NOT NULL REFERENCES piece (id),
        length_um INTEGER NOT NULL {_WHOLE.format("length_um", 1)},
        job TEXT NOT NULL,
        place TEXT NOT NULL,
        at TEXT NOT NULL,
        UNIQUE (plan, piece))""",
    """CREATE TABLE lost_copy (
        plan TEXT NOT NULL,
        decal TEXT NOT NULL,
        copy INTEGER NOT NULL,
        reason TEXT NOT NULL,
        at TEXT NOT NULL,
        PRIMARY KEY (plan, decal, copy))""",
    """CREATE TABLE expected (
        plan TEXT NOT NULL,
        stage TEXT NOT NULL,
        job TEXT NOT NULL,
        setup TEXT NOT NULL,
        film TEXT NOT NULL,
        amount REAL NOT NULL CHECK (amount > 0),
        at TEXT NOT NULL,
        PRIMARY KEY (plan, stage))""",
    """CREATE TABLE took (
        plan TEXT NOT NULL,
        stage TEXT NOT NULL,
        amount REAL NOT NULL CHECK (amount > 0),
        at TEXT NOT NULL,
        PRIMARY KEY (plan, stage))""",
    f"""CREATE TRIGGER never_below_nothing BEFORE INSERT ON movement
        WHEN NEW.source IN (SELECT id FROM piece)
         AND NEW.length_um > {_LEFT.format(piece="NEW.source")}
        BEGIN SELECT RAISE(ABORT, 'more film than is left'); END""",
    f"""CREATE TRIGGER never_reserved_twice BEFORE INSERT ON reservation
        WHEN NEW.length_um > {_LEFT.format(piece="NEW.piece")}
           - (SELECT COALESCE(SUM(length_um), 0) FROM reservation WHERE piece = NEW.piece)
        BEGIN SELECT RAISE(ABORT, 'more film than is free'); END""",
    """CREATE TRIGGER movements_stay BEFORE UPDATE ON movement
        BEGIN SELECT RAISE(ABORT, 'a movement is never changed'); END""",
    """CREATE TRIGGER movements_are_kept BEFORE DELETE ON movement
        BEGIN SELECT RAISE(ABORT, 'a movement is never struck out'); END""",
)
