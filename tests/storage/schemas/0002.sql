BEGIN TRANSACTION;
CREATE TABLE accounts (
	id VARCHAR(36) NOT NULL, 
	name VARCHAR(120) NOT NULL, 
	"key" VARCHAR(240) NOT NULL, 
	role VARCHAR(20) NOT NULL, 
	passphrase VARCHAR(200) NOT NULL, 
	made VARCHAR(40) NOT NULL, 
	closed VARCHAR(40), 
	CONSTRAINT pk_accounts PRIMARY KEY (id), 
	CONSTRAINT uq_accounts_key UNIQUE ("key"), 
	CONSTRAINT ck_accounts_ck_accounts_role CHECK (role IN ('owner', 'driller', 'offsider', 'reader'))
);
INSERT INTO "accounts" VALUES('01a212f8-8999-7c28-9d33-da3f77cea1d9','Sam Invented','sam invented','owner','$argon2id$v=19$m=64,t=1,p=1$YylPEbgcPEWkj/USHyWf7A$HZpF0T3B6jHkgV+5DdkJFZwrEH/pJvDPMGJXkLn9k/U','2026-11-25T13:50:07.769844+00:00',NULL);
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0002');
CREATE TABLE attachments (
	sha256 VARCHAR(64) NOT NULL, 
	size BIGINT NOT NULL, 
	received VARCHAR(40) NOT NULL, 
	CONSTRAINT pk_attachments PRIMARY KEY (sha256)
);
INSERT INTO "attachments" VALUES('d4e24d749a4fe2f161af2de913c0402b04e3ae287dafd0f9dbfa4a5c56c69285',7,'2026-11-25T13:50:07.791333+00:00');
CREATE TABLE entries (
	sequence INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	id VARCHAR(36) NOT NULL, 
	job VARCHAR(36) NOT NULL, 
	kind VARCHAR(60) NOT NULL, 
	at VARCHAR(40) NOT NULL, 
	"by" VARCHAR(120) NOT NULL, 
	device VARCHAR(120) NOT NULL, 
	counter BIGINT NOT NULL, 
	version INTEGER NOT NULL, 
	body TEXT NOT NULL, 
	strikes_out VARCHAR(36), 
	received VARCHAR(40) NOT NULL, 
	hash VARCHAR(64) NOT NULL, 
	chain VARCHAR(64) NOT NULL, 
	CONSTRAINT uq_entries_id UNIQUE (id)
);
INSERT INTO "entries" VALUES(1,'01a212f8-8971-7b7f-ac7b-8875b14c6e3f','0192f1a2-0000-7000-8000-000000000007','enquiry.opened','2026-03-02T12:00:00+00:00','sam','phone-a',1,1,'{"title": "Lot 7 orchard house (invented)"}',NULL,'2026-11-25T13:50:07.733029+00:00','8e8439f1f36078817d3dbada71d83780a78354ea4bcc1927a2394b1526f69e3e','df70f538969e3a6c41e4873c142b9c4797bf0eea1fc8fed12ec0afdfe53a3e71');
INSERT INTO "entries" VALUES(2,'01a212f8-8971-70aa-80cd-5184e0c64c69','0192f1a2-0000-7000-8000-000000000007','enquiry.need','2026-03-02T12:00:00+00:00','sam','phone-a',2,1,'{"flow": 0.00025, "typed": {"flow": "15 L/min"}}',NULL,'2026-11-25T13:50:07.733029+00:00','aa4fdf5a052c688aa74fc1c6f856f6cd1b8c49154bb1ee6d00b8df9cdb52185a','637a678965694975a28e8c64f473990e1389524d2de6da659926c337ec3b1f1c');
INSERT INTO "entries" VALUES(3,'01a212f8-8971-7813-867e-0efa3334b0e9','0192f1a2-0000-7000-8000-000000000007','rig.struck','2026-03-02T13:00:00+00:00','sam','phone-a',3,1,'{"depth": 43.0}',NULL,'2026-11-25T13:50:07.733029+00:00','4fec08df2ddc3dcc467d442e41c6aafc4ef35b194d922d6a1cc6d1acd910ed41','03bd2d854ce047fdf4b01e404b12b4aa8033cc5ad6ea4b895825b75e6109bee4');
INSERT INTO "entries" VALUES(4,'01a212f8-8971-7ae6-84bd-b5edf1cb9cea','0192f1a2-0000-7000-8000-000000000007','rig.struck','2026-03-02T13:10:00+00:00','sam','phone-a',4,1,'{"depth": 34.0}','01a212f8-8971-7813-867e-0efa3334b0e9','2026-11-25T13:50:07.733029+00:00','aff7e7e7d9b66c3f1cb23c1fa36dc27ad841885306d09b7b55a76ad069391557','babe0f1b6b2f60f04a485550db3580d12e7a8b8419ccb191a7f28d1c21aa30e4');
INSERT INTO "entries" VALUES(5,'01a212f8-8971-7b39-a66a-5bb855c16b27','0192f1a2-0000-7000-8000-000000000007','rig.flow','2026-03-02T13:15:00+00:00','sam','phone-b',1,1,'{"depth": 35.0, "flow": 0.0004, "method": "bucket", "readings": {"litres": 9.0, "seconds": 22.5}}',NULL,'2026-11-25T13:50:07.733029+00:00','5e0ebe73b04d11c5af1e5a3939dc21504887f040c32e8cd1e55e5398ac98575d','b9b37ec815c3d233a2e2c68767de47c51f37f9a274977961ad00f3e90b827ba7');
INSERT INTO "entries" VALUES(6,'01a212f8-8971-70b9-aaf5-667e869c22b5','0192f1a2-0000-7000-8000-000000000007','moon.landed','2026-03-02T13:20:00+00:00','sam','phone-b',2,7,'{"crater": "Copernicus"}',NULL,'2026-11-25T13:50:07.733029+00:00','e740828c8705e52fa0e1b43c0378e9f7862762e8ca1335db5267156b4ea8d040','de09b7ab3f331791c1a1c899c8d76ef49ae610092730b997c7bb539187dfe0dd');
INSERT INTO "entries" VALUES(7,'01a212f8-8985-72f6-831a-35a5b6af2e0f','01a212f8-8985-7016-a62b-7b4d1f5ee358','enquiry.opened','2026-03-02T12:00:00+00:00','sam','phone-a',5,1,'{"title": "Dairy (invented)"}',NULL,'2026-11-25T13:50:07.751295+00:00','bac58635a7e613031803423cea60cc16fd73a8476750fa6abf89c7c4a5e4f1cb','155eb9f6d7048006b0db6b62fa29a15f5a01d2d56ab35d3ec892da7b175f8d2d');
CREATE TABLE jobs (
	id VARCHAR(36) NOT NULL, 
	title VARCHAR(200) NOT NULL, 
	reference VARCHAR(200) NOT NULL, 
	customer VARCHAR(200) NOT NULL, 
	stage VARCHAR(20) NOT NULL, 
	outcome VARCHAR(20) NOT NULL, 
	updated VARCHAR(40) NOT NULL, 
	latitude FLOAT, 
	longitude FLOAT, 
	depth FLOAT, 
	flow FLOAT, 
	entries INTEGER NOT NULL, 
	last_sequence INTEGER NOT NULL, 
	CONSTRAINT pk_jobs PRIMARY KEY (id)
);
INSERT INTO "jobs" VALUES('0192f1a2-0000-7000-8000-000000000007','Lot 7 orchard house (invented)','','','rig','open','2026-11-25T13:50:07.733029+00:00',NULL,NULL,34.0,0.0004,6,6);
INSERT INTO "jobs" VALUES('01a212f8-8985-7016-a62b-7b4d1f5ee358','Dairy (invented)','','','enquiry','open','2026-11-25T13:50:07.751295+00:00',NULL,NULL,NULL,NULL,1,7);
CREATE TABLE sessions (
	token_hash VARCHAR(64) NOT NULL, 
	account VARCHAR(36) NOT NULL, 
	made VARCHAR(40) NOT NULL, 
	expires VARCHAR(40) NOT NULL, 
	CONSTRAINT pk_sessions PRIMARY KEY (token_hash), 
	CONSTRAINT fk_sessions_account FOREIGN KEY(account) REFERENCES accounts (id)
);
INSERT INTO "sessions" VALUES('c4420476b4b455116dec1470bedcbf245fc70af25f902798fa6e8e18a352a4fb','01a212f8-8999-7c28-9d33-da3f77cea1d9','2026-11-25T13:50:07.777808+00:00','2026-12-25T13:50:07.777808+00:00');
CREATE TABLE tries (
	number INTEGER NOT NULL, 
	"key" VARCHAR(400) NOT NULL, 
	at VARCHAR(40) NOT NULL, 
	CONSTRAINT pk_tries PRIMARY KEY (number)
);
CREATE INDEX ix_entries_job_sequence ON entries (job, sequence);
CREATE INDEX ix_entries_device_counter ON entries (device, counter);
CREATE TRIGGER entries_never_update BEFORE UPDATE ON entries BEGIN SELECT RAISE(ABORT, 'an entry never changes'); END;
CREATE TRIGGER entries_never_delete BEFORE DELETE ON entries BEGIN SELECT RAISE(ABORT, 'an entry never changes'); END;
CREATE INDEX ix_tries_key ON tries ("key", at);
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('entries',7);
COMMIT;
