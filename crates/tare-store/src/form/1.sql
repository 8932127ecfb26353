-- Form 1 of a workspace. Never edit this file once a release has written it: add the next one.
-- Ids are 16 bytes, big end first. Times are RFC 3339 text, edits are JSON text.

CREATE TABLE step (
    form    INTEGER PRIMARY KEY,
    sha256  BLOB NOT NULL CHECK (length(sha256) = 32),
    program TEXT NOT NULL
) STRICT;

CREATE TABLE document (
    number INTEGER PRIMARY KEY,
    id     BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    kind   TEXT NOT NULL,
    name   TEXT NOT NULL
) STRICT;

CREATE TABLE entry (
    document INTEGER NOT NULL REFERENCES document (number),
    sequence INTEGER NOT NULL CHECK (sequence >= 1),
    id       BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    author   TEXT NOT NULL,
    time     TEXT NOT NULL,
    says     TEXT NOT NULL,
    undoes   BLOB REFERENCES entry (id),
    idea     BLOB CHECK (length(idea) = 16),
    edits    TEXT NOT NULL,
    form     INTEGER NOT NULL CHECK (form BETWEEN 0 AND 4294967295),
    PRIMARY KEY (document, sequence)
) STRICT;

-- The journal is kept whole by the file itself, whatever program writes to it.
CREATE TRIGGER entry_is_next BEFORE INSERT ON entry
WHEN new.sequence <> (SELECT coalesce(max(sequence), 0) + 1 FROM entry WHERE document = new.document)
BEGIN SELECT raise(ABORT, 'an entry follows the last one'); END;

CREATE TRIGGER entry_stays BEFORE UPDATE ON entry
BEGIN SELECT raise(ABORT, 'an entry is never changed'); END;

CREATE TRIGGER entry_remains BEFORE DELETE ON entry
BEGIN SELECT raise(ABORT, 'an entry is never removed'); END;

CREATE TABLE snapshot (
    document INTEGER PRIMARY KEY REFERENCES document (number),
    sequence INTEGER NOT NULL CHECK (sequence >= 0),
    form     INTEGER NOT NULL CHECK (form BETWEEN 0 AND 4294967295),
    bytes    BLOB NOT NULL
) STRICT;

CREATE TABLE text (
    sha256 BLOB PRIMARY KEY CHECK (length(sha256) = 32),
    text   TEXT NOT NULL
) STRICT;

CREATE TABLE memory (
    key   TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT;

CREATE TABLE lease (
    document INTEGER NOT NULL REFERENCES document (number),
    first    INTEGER NOT NULL CHECK (first >= 1),
    past     INTEGER NOT NULL CHECK (past > first AND past <= 4294967295),
    device   TEXT NOT NULL,
    PRIMARY KEY (document, first)
) STRICT;

CREATE TRIGGER lease_is_next BEFORE INSERT ON lease
WHEN new.first <> (SELECT coalesce(max(past), 1) FROM lease WHERE document = new.document)
BEGIN SELECT raise(ABORT, 'a block of labels follows the last one'); END;

-- A cache: what search looks through, and the words in it.
CREATE TABLE searched (
    number   INTEGER PRIMARY KEY AUTOINCREMENT,
    document INTEGER NOT NULL REFERENCES document (number),
    entry    INTEGER,
    subject  TEXT,
    text     TEXT NOT NULL,
    CHECK ((entry IS NULL) <> (subject IS NULL)),
    UNIQUE (document, entry),
    UNIQUE (document, subject)
) STRICT;

CREATE VIRTUAL TABLE word USING fts5 (text, content = 'searched', content_rowid = 'number', tokenize = 'unicode61 remove_diacritics 0');

CREATE TRIGGER searched_in AFTER INSERT ON searched
BEGIN INSERT INTO word (rowid, text) VALUES (new.number, new.text); END;

CREATE TRIGGER searched_out AFTER DELETE ON searched
BEGIN INSERT INTO word (word, rowid, text) VALUES ('delete', old.number, old.text); END;

CREATE TRIGGER searched_anew AFTER UPDATE ON searched
BEGIN
    INSERT INTO word (word, rowid, text) VALUES ('delete', old.number, old.text);
    INSERT INTO word (rowid, text) VALUES (new.number, new.text);
END;
