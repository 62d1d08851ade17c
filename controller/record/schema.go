package record

// applicationID marks the file as ours, so that no other program's database is
// taken for a record: "rpnt" in ASCII.
const applicationID = 0x72706e74

// migrations lead from each version of the file to the next; the version is the
// number of those that were applied, in PRAGMA user_version. A released one is
// never changed: a new one is added.
//
// Wall clocks are Unix milliseconds and only labels; synced says whether the
// clock was synchronised when the label was made. Counted times are milliseconds
// by the run of the program in whose row they stand.
func migrations() []string {
	return []string{`
-- A run is one life of the program.
CREATE TABLE runs (
	id      INTEGER PRIMARY KEY,
	boot    TEXT    NOT NULL, -- id of the board's boot; empty = not known
	wall    INTEGER NOT NULL,
	mono    INTEGER NOT NULL, -- ms since boot
	synced  INTEGER NOT NULL,
	version TEXT    NOT NULL  -- of the program
);
-- The newest state of each vessel, replaced at every flush.
CREATE TABLE states (
	vessel TEXT    PRIMARY KEY,
	state  TEXT    NOT NULL, -- JSON of the state
	boot   TEXT    NOT NULL,
	wall   INTEGER NOT NULL,
	mono   INTEGER NOT NULL,
	synced INTEGER NOT NULL
);
-- What the vessels share: one row.
CREATE TABLE plant (
	one   INTEGER PRIMARY KEY CHECK (one = 1),
	state TEXT    NOT NULL  -- JSON of the shared plant's state
);
-- A batch, with all that it was started with. It runs while ended is null.
CREATE TABLE batches (
	id       TEXT    PRIMARY KEY,
	vessel   TEXT    NOT NULL,
	name     TEXT    NOT NULL, -- of the schedule
	schedule TEXT    NOT NULL, -- its full text
	original REAL    NOT NULL, -- gravity, SG
	final    REAL    NOT NULL, -- gravity as the brewer expects it, SG
	final_sd REAL    NOT NULL, -- points
	volume   REAL    NOT NULL, -- litres
	site     TEXT    NOT NULL, -- the vessel's section of the site file
	who      TEXT    NOT NULL, -- started it
	started  INTEGER NOT NULL,
	ended    INTEGER
);
CREATE INDEX running ON batches (vessel) WHERE ended IS NULL;
-- What happened, in order of id.
CREATE TABLE events (
	id      INTEGER PRIMARY KEY,
	run     INTEGER NOT NULL REFERENCES runs (id),
	batch   TEXT    REFERENCES batches (id), -- null = no batch ran
	vessel  TEXT    NOT NULL,
	wall    INTEGER NOT NULL,
	synced  INTEGER NOT NULL,
	counted INTEGER NOT NULL,
	kind    TEXT    NOT NULL,
	stage   TEXT    NOT NULL,
	event   TEXT    NOT NULL  -- JSON of the event
);
CREATE INDEX events_by_batch ON events (batch);
-- What people asked, and the answer.
CREATE TABLE orders (
	id       INTEGER PRIMARY KEY,
	run      INTEGER NOT NULL REFERENCES runs (id),
	batch    TEXT    REFERENCES batches (id),
	vessel   TEXT    NOT NULL,
	wall     INTEGER NOT NULL,
	synced   INTEGER NOT NULL,
	counted  INTEGER NOT NULL,
	order_id TEXT    NOT NULL,
	who      TEXT    NOT NULL,
	why      TEXT    NOT NULL,
	words    TEXT    NOT NULL, -- as it was asked
	asked    TEXT    NOT NULL, -- JSON of the order; a schedule in it is left out, its text stands in batches
	taken    INTEGER NOT NULL,
	text     TEXT    NOT NULL  -- of the answer
);
CREATE INDEX orders_by_batch ON orders (batch);
-- Readings and outputs of some steps of one vessel; pack.go has the form.
CREATE TABLE telemetry (
	id           INTEGER PRIMARY KEY,
	run          INTEGER NOT NULL REFERENCES runs (id),
	batch        TEXT    NOT NULL, -- empty = no batch ran
	vessel       TEXT    NOT NULL,
	wall         INTEGER NOT NULL, -- at the first step
	synced       INTEGER NOT NULL,
	counted_from INTEGER NOT NULL,
	counted_to   INTEGER NOT NULL,
	steps        INTEGER NOT NULL,
	pack         BLOB    NOT NULL
);
CREATE INDEX telemetry_by_batch ON telemetry (batch);
`, `
ALTER TABLE runs ADD COLUMN ended INTEGER;           -- its good end; null = it runs, or was cut
ALTER TABLE states ADD COLUMN run INTEGER;           -- that stored it
ALTER TABLE states ADD COLUMN sum BLOB;              -- of its JSON; null = of a program that kept none
ALTER TABLE batches ADD COLUMN sum BLOB;             -- of what it was started with; likewise
ALTER TABLE orders ADD COLUMN schedule TEXT;         -- JSON of the schedule that the order carried
ALTER TABLE telemetry ADD COLUMN state_sum BLOB;     -- of the state's JSON after the last step; null = not looked at
ALTER TABLE telemetry ADD COLUMN every INTEGER NOT NULL DEFAULT 0; -- ms between the steps that were kept; 0 = all were
CREATE INDEX telemetry_by_run ON telemetry (run, vessel);
CREATE INDEX telemetry_at_full_rate ON telemetry (wall) WHERE every = 0;
-- Where decisions can be taken again from: the first step of each run, and the
-- step with which a batch starts.
CREATE TABLE begins (
	id      INTEGER PRIMARY KEY,
	run     INTEGER NOT NULL REFERENCES runs (id),
	batch   TEXT    NOT NULL, -- that runs after the step; empty = none
	vessel  TEXT    NOT NULL,
	wall    INTEGER NOT NULL,
	synced  INTEGER NOT NULL,
	counted INTEGER NOT NULL, -- at the step
	state   TEXT    NOT NULL, -- JSON of the state before the step
	wired   TEXT    NOT NULL, -- JSON of the vessel before the step, with its running schedule
	site    TEXT              -- the vessel's section of the site file; null = as in this vessel's row before
);
CREATE INDEX begins_by_batch ON begins (batch);
`, `
-- What was believed, wanted and why, every few minutes and wherever something
-- happened. Null = not known then.
CREATE TABLE decisions (
	id            INTEGER PRIMARY KEY,
	run           INTEGER NOT NULL REFERENCES runs (id),
	batch         TEXT    NOT NULL, -- empty = no batch ran
	vessel        TEXT    NOT NULL,
	wall          INTEGER NOT NULL,
	synced        INTEGER NOT NULL,
	counted       INTEGER NOT NULL,
	stage         TEXT    NOT NULL,
	kind          TEXT    NOT NULL, -- of the stage
	target        REAL, -- C
	beer          REAL, -- C
	original      REAL, -- gravity of the wort with all that was added, SG
	gravity       REAL, -- SG
	points_left   REAL,
	points_low    REAL, -- 10 %
	points_high   REAL, -- 90 %
	final         REAL, -- gravity as it is expected to end, SG
	heat          INTEGER NOT NULL, -- 1 = on
	cool          INTEGER NOT NULL,
	heat_switches INTEGER NOT NULL, -- on, in the life of the contact
	heat_on       INTEGER NOT NULL, -- ms in all
	cool_switches INTEGER NOT NULL,
	cool_on       INTEGER NOT NULL,
	reasons       TEXT    NOT NULL  -- JSON, in the order in which they were given
);
CREATE INDEX decisions_by_batch ON decisions (batch);
`}
}
