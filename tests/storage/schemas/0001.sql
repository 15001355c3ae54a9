BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE attachments (
	sha256 VARCHAR(64) NOT NULL, 
	size BIGINT NOT NULL, 
	received VARCHAR(40) NOT NULL, 
	CONSTRAINT pk_attachments PRIMARY KEY (sha256)
);
INSERT INTO "attachments" VALUES('d4e24d749a4fe2f161af2de913c0402b04e3ae287dafd0f9dbfa4a5c56c69285',7,'2026-11-25T13:42:33.408565+00:00');
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
INSERT INTO "entries" VALUES(1,'01a212f1-9aab-72b0-93cb-d4863ebbff32','0192f1a2-0000-7000-8000-000000000007','enquiry.opened','2026-03-02T12:00:00+00:00','sam','phone-a',1,1,'{"title": "Lot 7 orchard house (invented)"}',NULL,'2026-11-25T13:42:33.390596+00:00','355af426862a3db911d7c7625106cb9807b16dc87d086f2ad8e7add84d7f4972','6d38a0978e26a42c2d8c0a4e1da03913728e8eaa52a66126bf15830a6b3a4f63');
INSERT INTO "entries" VALUES(2,'01a212f1-9aab-78db-b772-8f1b6cd7d1c0','0192f1a2-0000-7000-8000-000000000007','enquiry.need','2026-03-02T12:00:00+00:00','sam','phone-a',2,1,'{"flow": 0.00025, "typed": {"flow": "15 L/min"}}',NULL,'2026-11-25T13:42:33.390596+00:00','cce030bfb46d84e4ac65ad5a3e2defa3b72113051e423282a78b54503027e4fb','8a38481d39477384882987ebe85027f5926082d31c0db066eaa6fd02dd168b3a');
INSERT INTO "entries" VALUES(3,'01a212f1-9aab-73cf-8ebe-2e3d200f0269','0192f1a2-0000-7000-8000-000000000007','rig.struck','2026-03-02T13:00:00+00:00','sam','phone-a',3,1,'{"depth": 43.0}',NULL,'2026-11-25T13:42:33.390596+00:00','83bf168ad30d24bc6e9a909ab84eb242147848f817f8758c3ec77359a1b9b712','870579694aef28a3075d02dae523010f92c37b8b11de3b8d676409b1618a606e');
INSERT INTO "entries" VALUES(4,'01a212f1-9aab-7ebb-8ead-76acf8edc800','0192f1a2-0000-7000-8000-000000000007','rig.struck','2026-03-02T13:10:00+00:00','sam','phone-a',4,1,'{"depth": 34.0}','01a212f1-9aab-73cf-8ebe-2e3d200f0269','2026-11-25T13:42:33.390596+00:00','e4589a00a4cdd8c8c103f7113cf7bae81ace1400b592aa05b2de9d98466bc481','d9e395b6e8c6241308f0a162d206563d2fe082a9ba582f7c55ed5d06b1ffed82');
INSERT INTO "entries" VALUES(5,'01a212f1-9aab-7f62-a705-d1994fa9f78a','0192f1a2-0000-7000-8000-000000000007','rig.flow','2026-03-02T13:15:00+00:00','sam','phone-b',1,1,'{"depth": 35.0, "flow": 0.0004, "method": "bucket", "readings": {"litres": 9.0, "seconds": 22.5}}',NULL,'2026-11-25T13:42:33.390596+00:00','193b578695e95cb35645ae4996ad4e3062221418e701575c7355134ad45e4a50','b644f780e4d0ca56c7269ca01d1d65c129256ddc64a8b23cea88f0a16f4b3f74');
INSERT INTO "entries" VALUES(6,'01a212f1-9aab-7cb1-ba00-4b90fe52dabb','0192f1a2-0000-7000-8000-000000000007','moon.landed','2026-03-02T13:20:00+00:00','sam','phone-b',2,7,'{"crater": "Copernicus"}',NULL,'2026-11-25T13:42:33.390596+00:00','f5440d9e586debfa9c97c47ea4ddf544627ffbacb4cd23ba8ee7437621884eff','733e94ece8f135b41e509861d13707497b2be5f7e4f71bc351fccddc9e760015');
INSERT INTO "entries" VALUES(7,'01a212f1-9ab6-7263-aaa1-25bb67c21793','01a212f1-9ab6-7e24-a00f-59ea44e18e25','enquiry.opened','2026-03-02T12:00:00+00:00','sam','phone-a',5,1,'{"title": "Dairy (invented)"}',NULL,'2026-11-25T13:42:33.400389+00:00','59c342d31369ccb99c6e32ba5b4cb3e33b6efe642aff428187a4a7b43ca37b26','af1ce556c0fe90f1a55c8abf452b627a5d5566bcb4315147fa5abd2c9973a7f6');
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
INSERT INTO "jobs" VALUES('0192f1a2-0000-7000-8000-000000000007','Lot 7 orchard house (invented)','','','rig','open','2026-11-25T13:42:33.390596+00:00',NULL,NULL,34.0,0.0004,6,6);
INSERT INTO "jobs" VALUES('01a212f1-9ab6-7e24-a00f-59ea44e18e25','Dairy (invented)','','','enquiry','open','2026-11-25T13:42:33.400389+00:00',NULL,NULL,NULL,NULL,1,7);
CREATE INDEX ix_entries_job_sequence ON entries (job, sequence);
CREATE INDEX ix_entries_device_counter ON entries (device, counter);
CREATE TRIGGER entries_never_update BEFORE UPDATE ON entries BEGIN SELECT RAISE(ABORT, 'an entry never changes'); END;
CREATE TRIGGER entries_never_delete BEFORE DELETE ON entries BEGIN SELECT RAISE(ABORT, 'an entry never changes'); END;
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('entries',7);
COMMIT;
