-- What outlives a power cut. Version 2; later versions are numbered files beside this one.
CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE alerts (id TEXT PRIMARY KEY, record BLOB NOT NULL) WITHOUT ROWID;
CREATE TABLE state (key TEXT PRIMARY KEY, value BLOB NOT NULL) WITHOUT ROWID;
CREATE TABLE journal (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    at_s REAL NOT NULL,
    kind TEXT NOT NULL,          -- 'transition', or the kind of a note
    line TEXT NOT NULL           -- JSON
);
CREATE INDEX journal_at ON journal (at_s);
CREATE TABLE outbox (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE,     -- of the message: duplicates fold
    outlet TEXT NOT NULL,
    about TEXT NOT NULL,
    at_s REAL NOT NULL,
    message BLOB NOT NULL,
    tries INTEGER NOT NULL DEFAULT 0,
    why TEXT NOT NULL DEFAULT ''
);
CREATE INDEX outbox_outlet ON outbox (outlet, number);
