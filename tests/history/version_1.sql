BEGIN TRANSACTION;
CREATE TABLE conversation (
	id TEXT NOT NULL, 
	farm TEXT, 
	created VARCHAR(27) NOT NULL, 
	PRIMARY KEY (id)
);
INSERT INTO "conversation" VALUES('c1',NULL,'2026-04-21T22:15:00.000000Z');
CREATE TABLE fact (
	id INTEGER NOT NULL, 
	turn INTEGER NOT NULL, 
	ordinal INTEGER NOT NULL, 
	kind TEXT NOT NULL, 
	slot TEXT, 
	"row" INTEGER, 
	body TEXT NOT NULL, 
	PRIMARY KEY (id), 
	UNIQUE (turn, ordinal), 
	FOREIGN KEY(turn) REFERENCES turn (id)
);
INSERT INTO "fact" VALUES(1,1,0,'started',NULL,NULL,'{"kind": "started", "dialog": "test-run", "script": "abc"}');
INSERT INTO "fact" VALUES(2,2,0,'kept','catch',1,'{"kind": "kept", "slot": "catch", "row": 1, "run": 1, "value": {"value": 49.5, "unit": "g"}, "said": "row one forty nine point five"}');
CREATE TABLE outbox (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	"key" TEXT NOT NULL, 
	conversation TEXT NOT NULL, 
	body TEXT NOT NULL, 
	due_at VARCHAR(27) NOT NULL, 
	state TEXT NOT NULL, 
	attempts INTEGER NOT NULL, 
	worker TEXT, 
	leased_until VARCHAR(27), 
	why TEXT, 
	UNIQUE ("key")
);
INSERT INTO "outbox" VALUES(1,'c1-1/0','c1','{"text": "0"}','2026-04-21T22:15:00.000000Z','sent',0,NULL,NULL,NULL);
INSERT INTO "outbox" VALUES(2,'c1-2/0','c1','{"text": "0"}','2026-04-21T22:16:00.000000Z','pending',0,NULL,NULL,NULL);
INSERT INTO "outbox" VALUES(3,'c1-2/1','c1','{"text": "1"}','2026-04-21T22:16:00.000000Z','pending',0,NULL,NULL,NULL);
CREATE TABLE rowhand_format (
	version INTEGER NOT NULL, 
	PRIMARY KEY (version)
);
INSERT INTO "rowhand_format" VALUES(1);
CREATE TABLE script (
	hash TEXT NOT NULL, 
	name TEXT NOT NULL, 
	source TEXT NOT NULL, 
	PRIMARY KEY (hash)
);
INSERT INTO "script" VALUES('abc','test-run','dialog: test-run');
CREATE TABLE turn (
	id INTEGER NOT NULL, 
	conversation TEXT NOT NULL, 
	seq INTEGER NOT NULL, 
	utterance_id TEXT NOT NULL, 
	said_at VARCHAR(27) NOT NULL, 
	language TEXT NOT NULL, 
	heard TEXT NOT NULL, 
	spoken BOOLEAN NOT NULL, 
	confidence FLOAT NOT NULL, 
	reply TEXT NOT NULL, 
	PRIMARY KEY (id), 
	UNIQUE (conversation, seq), 
	FOREIGN KEY(conversation) REFERENCES conversation (id), 
	UNIQUE (utterance_id)
);
INSERT INTO "turn" VALUES(1,'c1',1,'c1-1','2026-04-21T22:15:00.000000Z','en','test run',0,1.0,'{"text": "heard test run", "speech": "", "buttons": []}');
INSERT INTO "turn" VALUES(2,'c1',2,'c1-2','2026-04-21T22:16:00.000000Z','en','row one forty nine point five',0,1.0,'{"text": "heard row one forty nine point five", "speech": "", "buttons": []}');
CREATE INDEX outbox_by_due ON outbox (state, due_at, id);
CREATE INDEX outbox_by_conversation ON outbox (conversation, state, id);
CREATE TRIGGER turn_no_update BEFORE UPDATE ON turn BEGIN SELECT RAISE(ABORT, 'turn rows are written once'); END;
CREATE TRIGGER turn_no_delete BEFORE DELETE ON turn BEGIN SELECT RAISE(ABORT, 'turn rows are written once'); END;
CREATE INDEX fact_by_row ON fact ("row", slot, turn);
CREATE INDEX fact_by_kind ON fact (kind, turn);
CREATE TRIGGER fact_no_update BEFORE UPDATE ON fact BEGIN SELECT RAISE(ABORT, 'fact rows are written once'); END;
CREATE TRIGGER fact_no_delete BEFORE DELETE ON fact BEGIN SELECT RAISE(ABORT, 'fact rows are written once'); END;
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('outbox',3);
COMMIT;
