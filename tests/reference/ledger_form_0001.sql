-- A ledger in its first form, one entry of each kind; the values are invented.
BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE batch (
	number INTEGER NOT NULL, 
	parts JSON NOT NULL, 
	recipe_number INTEGER, 
	CONSTRAINT pk_batch PRIMARY KEY (number), 
	CONSTRAINT fk_batch_recipe_number FOREIGN KEY(recipe_number) REFERENCES recipe (number), 
	CONSTRAINT fk_batch_number FOREIGN KEY(number) REFERENCES entry (number)
);
INSERT INTO "batch" VALUES(4,'[["white", 300.0], ["blue", 187.5], ["black", 12.5]]',3);
CREATE TABLE correction (
	number INTEGER NOT NULL, 
	batch_number INTEGER, 
	additions JSON NOT NULL, 
	growth DOUBLE NOT NULL, 
	reachable BOOLEAN NOT NULL, 
	lights JSON NOT NULL, 
	strengths JSON NOT NULL, 
	why VARCHAR NOT NULL, 
	CONSTRAINT pk_correction PRIMARY KEY (number), 
	CONSTRAINT fk_correction_batch_number FOREIGN KEY(batch_number) REFERENCES batch (number), 
	CONSTRAINT fk_correction_number FOREIGN KEY(number) REFERENCES entry (number)
);
INSERT INTO "correction" VALUES(7,4,'[["blue", 6.2]]',0.0124,1,'{"D65": 0.2}','{"blue": 0.93}','blue is weak today');
CREATE TABLE decision (
	number INTEGER NOT NULL, 
	defect_number INTEGER, 
	options JSON NOT NULL, 
	chosen VARCHAR NOT NULL, 
	why VARCHAR NOT NULL, 
	outcome VARCHAR NOT NULL, 
	CONSTRAINT pk_decision PRIMARY KEY (number), 
	CONSTRAINT fk_decision_defect_number FOREIGN KEY(defect_number) REFERENCES defect (number), 
	CONSTRAINT fk_decision_number FOREIGN KEY(number) REFERENCES entry (number)
);
INSERT INTO "decision" VALUES(10,9,'[{"option": "level and recoat", "hours": 3.0, "risk": 0.2}, {"option": "back to primer", "hours": 9.0}]','back to primer','it is open to the primer','');
CREATE TABLE defect (
	number INTEGER NOT NULL, 
	defect_kind VARCHAR NOT NULL, 
	panel VARCHAR NOT NULL, 
	place VARCHAR NOT NULL, 
	count INTEGER, 
	size_mm DOUBLE, 
	depth_um DOUBLE, 
	layer_reached VARCHAR, 
	seen_on VARCHAR NOT NULL, 
	CONSTRAINT pk_defect PRIMARY KEY (number), 
	CONSTRAINT fk_defect_number FOREIGN KEY(number) REFERENCES entry (number)
);
INSERT INTO "defect" VALUES(9,'crater','roof','left rear',12,0.8,40.0,'primer','colour coat');
CREATE TABLE entry (
	number INTEGER NOT NULL, 
	job_id INTEGER NOT NULL, 
	kind VARCHAR NOT NULL, 
	made_at VARCHAR NOT NULL, 
	supersedes_id INTEGER, 
	reason VARCHAR NOT NULL, 
	CONSTRAINT pk_entry PRIMARY KEY (number), 
	CONSTRAINT fk_entry_job_id FOREIGN KEY(job_id) REFERENCES job (id), 
	CONSTRAINT uq_entry_number_job_id_kind UNIQUE (number, job_id, kind), 
	CONSTRAINT uq_entry_supersedes_id UNIQUE (supersedes_id), 
	CONSTRAINT fk_entry_supersedes_id_job_id_kind FOREIGN KEY(supersedes_id, job_id, kind) REFERENCES entry (number, job_id, kind)
);
INSERT INTO "entry" VALUES(1,1,'reading','2026-05-04T09:30:00Z',NULL,'');
INSERT INTO "entry" VALUES(2,1,'target','2026-05-04T09:30:00Z',NULL,'');
INSERT INTO "entry" VALUES(3,1,'recipe','2026-05-04T09:30:00Z',NULL,'');
INSERT INTO "entry" VALUES(4,1,'batch','2026-05-04T09:30:00Z',NULL,'');
INSERT INTO "entry" VALUES(5,1,'spray-out','2026-05-04T09:30:00Z',NULL,'');
INSERT INTO "entry" VALUES(6,1,'verdict','2026-05-04T09:30:00Z',NULL,'');
INSERT INTO "entry" VALUES(7,1,'correction','2026-05-04T09:30:00Z',NULL,'');
INSERT INTO "entry" VALUES(8,1,'film-layer','2026-05-04T09:30:00Z',NULL,'');
INSERT INTO "entry" VALUES(9,1,'defect','2026-05-04T09:30:00Z',NULL,'');
INSERT INTO "entry" VALUES(10,1,'decision','2026-05-04T09:30:00Z',NULL,'');
INSERT INTO "entry" VALUES(11,1,'note','2026-05-04T09:30:00Z',NULL,'');
INSERT INTO "entry" VALUES(12,1,'note','2026-05-04T09:30:00Z',11,'said better');
CREATE TABLE entry_source (
	entry_number INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	name VARCHAR NOT NULL, 
	sha256 VARCHAR NOT NULL, 
	CONSTRAINT pk_entry_source PRIMARY KEY (entry_number, position), 
	CONSTRAINT fk_entry_source_entry_number FOREIGN KEY(entry_number) REFERENCES entry (number), 
	CONSTRAINT fk_entry_source_sha256 FOREIGN KEY(sha256) REFERENCES source_file (sha256)
);
INSERT INTO "entry_source" VALUES(5,0,'card.csv','668df8e553385955894a69972b6a8a2c4e7a6ae199ef5043c1ff5b3da1aa0cae');
CREATE TABLE exposure (
	entry_number INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	kind VARCHAR NOT NULL, 
	value VARCHAR NOT NULL, 
	value_key VARCHAR NOT NULL, 
	CONSTRAINT pk_exposure PRIMARY KEY (entry_number, position), 
	CONSTRAINT fk_exposure_entry_number FOREIGN KEY(entry_number) REFERENCES defect (number)
);
INSERT INTO "exposure" VALUES(9,0,'air line','2','2');
INSERT INTO "exposure" VALUES(9,1,'gun','HVLP 1','hvlp 1');
CREATE TABLE film_layer (
	number INTEGER NOT NULL, 
	panel VARCHAR NOT NULL, 
	position INTEGER NOT NULL, 
	layer VARCHAR NOT NULL, 
	builds_um JSON NOT NULL, 
	places JSON NOT NULL, 
	CONSTRAINT pk_film_layer PRIMARY KEY (number), 
	CONSTRAINT fk_film_layer_number FOREIGN KEY(number) REFERENCES entry (number)
);
INSERT INTO "film_layer" VALUES(8,'roof',1,'primer','[62.0, 58.0]','["left", "right"]');
CREATE TABLE job (
	id INTEGER NOT NULL, 
	title VARCHAR NOT NULL, 
	vehicle VARCHAR NOT NULL, 
	colour_name VARCHAR NOT NULL, 
	note VARCHAR NOT NULL, 
	made_at VARCHAR NOT NULL, 
	CONSTRAINT pk_job PRIMARY KEY (id)
);
INSERT INTO "job" VALUES(1,'Tarnbeck Six, roof','Tarnbeck Six drophead coupé, 1934','Saltmarsh Blue','','2026-05-04T09:30:00Z');
CREATE TABLE note (
	number INTEGER NOT NULL, 
	text VARCHAR NOT NULL, 
	CONSTRAINT pk_note PRIMARY KEY (number), 
	CONSTRAINT fk_note_number FOREIGN KEY(number) REFERENCES entry (number)
);
INSERT INTO "note" VALUES(11,'Leftover tin found under the bench.');
INSERT INTO "note" VALUES(12,'Leftover tin found under the bench.');
CREATE TABLE reading (
	number INTEGER NOT NULL, 
	role VARCHAR NOT NULL, 
	name VARCHAR NOT NULL, 
	geometry VARCHAR NOT NULL, 
	repeats INTEGER NOT NULL, 
	spread_de00 DOUBLE, 
	lab_l DOUBLE NOT NULL, 
	lab_a DOUBLE NOT NULL, 
	lab_b DOUBLE NOT NULL, 
	light VARCHAR NOT NULL, 
	observer INTEGER NOT NULL, 
	reflectance JSON, 
	CONSTRAINT pk_reading PRIMARY KEY (number), 
	CONSTRAINT fk_reading_number FOREIGN KEY(number) REFERENCES entry (number)
);
INSERT INTO "reading" VALUES(1,'leftover tin','tin','di8',3,0.12,38.2,-4.1,-20.3,'D65',10,'[0.1, 0.104, 0.108, 0.112, 0.116, 0.12, 0.124, 0.128, 0.132, 0.136, 0.14, 0.144, 0.148, 0.152, 0.156, 0.16, 0.164, 0.168, 0.172, 0.176, 0.18, 0.184, 0.188, 0.192, 0.196, 0.2, 0.204, 0.208, 0.212, 0.216, 0.22]');
CREATE TABLE recipe (
	number INTEGER NOT NULL, 
	bank VARCHAR NOT NULL, 
	bank_digest VARCHAR NOT NULL, 
	grams DOUBLE NOT NULL, 
	parts JSON NOT NULL, 
	lights JSON NOT NULL, 
	metamerism DOUBLE, 
	cost DOUBLE, 
	sensitivity_de00_p95 DOUBLE, 
	rank INTEGER NOT NULL, 
	lab_l DOUBLE NOT NULL, 
	lab_a DOUBLE NOT NULL, 
	lab_b DOUBLE NOT NULL, 
	light VARCHAR NOT NULL, 
	observer INTEGER NOT NULL, 
	reflectance JSON, 
	CONSTRAINT pk_recipe PRIMARY KEY (number), 
	CONSTRAINT fk_recipe_number FOREIGN KEY(number) REFERENCES entry (number)
);
INSERT INTO "recipe" VALUES(3,'Lowmere bank','ab12',500.0,'[["white", 300.0], ["blue", 187.5], ["black", 12.5]]','{"D65": 0.1, "A": 0.3}',0.2,12.5,0.15,1,38.2,-4.1,-20.3,'D65',10,'[0.1, 0.104, 0.108, 0.112, 0.116, 0.12, 0.124, 0.128, 0.132, 0.136, 0.14, 0.144, 0.148, 0.152, 0.156, 0.16, 0.164, 0.168, 0.172, 0.176, 0.18, 0.184, 0.188, 0.192, 0.196, 0.2, 0.204, 0.208, 0.212, 0.216, 0.22]');
CREATE TABLE source_file (
	sha256 VARCHAR NOT NULL, 
	content BLOB NOT NULL, 
	CONSTRAINT pk_source_file PRIMARY KEY (sha256)
);
INSERT INTO "source_file" VALUES('668df8e553385955894a69972b6a8a2c4e7a6ae199ef5043c1ff5b3da1aa0cae',X'6E616D652C4C2C612C620A6361726420312C33392E342C2D332E322C2D31392E390A');
CREATE TABLE spray_out (
	number INTEGER NOT NULL, 
	batch_number INTEGER, 
	name VARCHAR NOT NULL, 
	ground VARCHAR NOT NULL, 
	coats INTEGER, 
	build_um DOUBLE, 
	surface VARCHAR NOT NULL, 
	geometry VARCHAR NOT NULL, 
	repeats INTEGER NOT NULL, 
	spread_de00 DOUBLE, 
	lab_l DOUBLE NOT NULL, 
	lab_a DOUBLE NOT NULL, 
	lab_b DOUBLE NOT NULL, 
	light VARCHAR NOT NULL, 
	observer INTEGER NOT NULL, 
	reflectance JSON, 
	CONSTRAINT pk_spray_out PRIMARY KEY (number), 
	CONSTRAINT fk_spray_out_batch_number FOREIGN KEY(batch_number) REFERENCES batch (number), 
	CONSTRAINT fk_spray_out_number FOREIGN KEY(number) REFERENCES entry (number)
);
INSERT INTO "spray_out" VALUES(5,4,'card 1','grey primer',2,45.0,'cut and polished','',1,NULL,39.4,-3.2,-19.9,'D65',10,'[0.1, 0.104, 0.108, 0.112, 0.116, 0.12, 0.124, 0.128, 0.132, 0.136, 0.14, 0.144, 0.148, 0.152, 0.156, 0.16, 0.164, 0.168, 0.172, 0.176, 0.18, 0.184, 0.188, 0.192, 0.196, 0.2, 0.204, 0.208, 0.212, 0.216, 0.22]');
CREATE TABLE target (
	number INTEGER NOT NULL, 
	name VARCHAR NOT NULL, 
	tolerance DOUBLE NOT NULL, 
	u95 DOUBLE, 
	evidence JSON NOT NULL, 
	lab_l DOUBLE NOT NULL, 
	lab_a DOUBLE NOT NULL, 
	lab_b DOUBLE NOT NULL, 
	light VARCHAR NOT NULL, 
	observer INTEGER NOT NULL, 
	reflectance JSON, 
	CONSTRAINT pk_target PRIMARY KEY (number), 
	CONSTRAINT fk_target_number FOREIGN KEY(number) REFERENCES entry (number)
);
INSERT INTO "target" VALUES(2,'Saltmarsh Blue',0.5,0.4,'["leftover tin", "door shut"]',38.2,-4.1,-20.3,'D65',10,'[0.1, 0.104, 0.108, 0.112, 0.116, 0.12, 0.124, 0.128, 0.132, 0.136, 0.14, 0.144, 0.148, 0.152, 0.156, 0.16, 0.164, 0.168, 0.172, 0.176, 0.18, 0.184, 0.188, 0.192, 0.196, 0.2, 0.204, 0.208, 0.212, 0.216, 0.22]');
CREATE TABLE verdict (
	number INTEGER NOT NULL, 
	standard VARCHAR NOT NULL, 
	trial VARCHAR NOT NULL, 
	de00 DOUBLE NOT NULL, 
	de76 DOUBLE NOT NULL, 
	lights JSON NOT NULL, 
	metamerism DOUBLE, 
	words JSON NOT NULL, 
	tolerance DOUBLE NOT NULL, 
	verdict VARCHAR NOT NULL, 
	CONSTRAINT pk_verdict PRIMARY KEY (number), 
	CONSTRAINT fk_verdict_number FOREIGN KEY(number) REFERENCES entry (number)
);
INSERT INTO "verdict" VALUES(6,'Saltmarsh Blue','card 1',1.42,1.6,'{"D65": 1.42, "A": 1.5}',0.2,'["lighter", "redder"]',0.5,'outside');
CREATE INDEX ix_entry_job_id ON entry (job_id);
CREATE INDEX ix_defect_defect_kind ON defect (defect_kind);
CREATE INDEX ix_exposure_kind_value_key_entry_number ON exposure (kind, value_key, entry_number);
CREATE TRIGGER keep_job_update BEFORE UPDATE ON job BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: job keeps every row'); END;
CREATE TRIGGER keep_job_delete BEFORE DELETE ON job BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: job keeps every row'); END;
CREATE TRIGGER keep_job_replace BEFORE INSERT ON job WHEN EXISTS (SELECT 1 FROM job WHERE id = NEW.id) BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: job keeps every row'); END;
CREATE TRIGGER keep_source_file_update BEFORE UPDATE ON source_file BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: source_file keeps every row'); END;
CREATE TRIGGER keep_source_file_delete BEFORE DELETE ON source_file BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: source_file keeps every row'); END;
CREATE TRIGGER keep_source_file_replace BEFORE INSERT ON source_file WHEN EXISTS (SELECT 1 FROM source_file WHERE sha256 = NEW.sha256) BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: source_file keeps every row'); END;
CREATE TRIGGER keep_entry_update BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: entry keeps every row'); END;
CREATE TRIGGER keep_entry_delete BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: entry keeps every row'); END;
CREATE TRIGGER keep_entry_replace BEFORE INSERT ON entry WHEN EXISTS (SELECT 1 FROM entry WHERE number = NEW.number OR supersedes_id = NEW.supersedes_id) BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: entry keeps every row'); END;
CREATE TRIGGER keep_entry_source_update BEFORE UPDATE ON entry_source BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: entry_source keeps every row'); END;
CREATE TRIGGER keep_entry_source_delete BEFORE DELETE ON entry_source BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: entry_source keeps every row'); END;
CREATE TRIGGER keep_entry_source_replace BEFORE INSERT ON entry_source WHEN EXISTS (SELECT 1 FROM entry_source WHERE entry_number = NEW.entry_number AND position = NEW.position) BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: entry_source keeps every row'); END;
CREATE TRIGGER keep_reading_update BEFORE UPDATE ON reading BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: reading keeps every row'); END;
CREATE TRIGGER keep_reading_delete BEFORE DELETE ON reading BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: reading keeps every row'); END;
CREATE TRIGGER keep_reading_replace BEFORE INSERT ON reading WHEN EXISTS (SELECT 1 FROM reading WHERE number = NEW.number) BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: reading keeps every row'); END;
CREATE TRIGGER keep_target_update BEFORE UPDATE ON target BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: target keeps every row'); END;
CREATE TRIGGER keep_target_delete BEFORE DELETE ON target BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: target keeps every row'); END;
CREATE TRIGGER keep_target_replace BEFORE INSERT ON target WHEN EXISTS (SELECT 1 FROM target WHERE number = NEW.number) BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: target keeps every row'); END;
CREATE TRIGGER keep_recipe_update BEFORE UPDATE ON recipe BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: recipe keeps every row'); END;
CREATE TRIGGER keep_recipe_delete BEFORE DELETE ON recipe BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: recipe keeps every row'); END;
CREATE TRIGGER keep_recipe_replace BEFORE INSERT ON recipe WHEN EXISTS (SELECT 1 FROM recipe WHERE number = NEW.number) BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: recipe keeps every row'); END;
CREATE TRIGGER keep_batch_update BEFORE UPDATE ON batch BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: batch keeps every row'); END;
CREATE TRIGGER keep_batch_delete BEFORE DELETE ON batch BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: batch keeps every row'); END;
CREATE TRIGGER keep_batch_replace BEFORE INSERT ON batch WHEN EXISTS (SELECT 1 FROM batch WHERE number = NEW.number) BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: batch keeps every row'); END;
CREATE TRIGGER keep_spray_out_update BEFORE UPDATE ON spray_out BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: spray_out keeps every row'); END;
CREATE TRIGGER keep_spray_out_delete BEFORE DELETE ON spray_out BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: spray_out keeps every row'); END;
CREATE TRIGGER keep_spray_out_replace BEFORE INSERT ON spray_out WHEN EXISTS (SELECT 1 FROM spray_out WHERE number = NEW.number) BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: spray_out keeps every row'); END;
CREATE TRIGGER keep_verdict_update BEFORE UPDATE ON verdict BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: verdict keeps every row'); END;
CREATE TRIGGER keep_verdict_delete BEFORE DELETE ON verdict BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: verdict keeps every row'); END;
CREATE TRIGGER keep_verdict_replace BEFORE INSERT ON verdict WHEN EXISTS (SELECT 1 FROM verdict WHERE number = NEW.number) BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: verdict keeps every row'); END;
CREATE TRIGGER keep_correction_update BEFORE UPDATE ON correction BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: correction keeps every row'); END;
CREATE TRIGGER keep_correction_delete BEFORE DELETE ON correction BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: correction keeps every row'); END;
CREATE TRIGGER keep_correction_replace BEFORE INSERT ON correction WHEN EXISTS (SELECT 1 FROM correction WHERE number = NEW.number) BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: correction keeps every row'); END;
CREATE TRIGGER keep_film_layer_update BEFORE UPDATE ON film_layer BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: film_layer keeps every row'); END;
CREATE TRIGGER keep_film_layer_delete BEFORE DELETE ON film_layer BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: film_layer keeps every row'); END;
CREATE TRIGGER keep_film_layer_replace BEFORE INSERT ON film_layer WHEN EXISTS (SELECT 1 FROM film_layer WHERE number = NEW.number) BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: film_layer keeps every row'); END;
CREATE TRIGGER keep_defect_update BEFORE UPDATE ON defect BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: defect keeps every row'); END;
CREATE TRIGGER keep_defect_delete BEFORE DELETE ON defect BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: defect keeps every row'); END;
CREATE TRIGGER keep_defect_replace BEFORE INSERT ON defect WHEN EXISTS (SELECT 1 FROM defect WHERE number = NEW.number) BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: defect keeps every row'); END;
CREATE TRIGGER keep_exposure_update BEFORE UPDATE ON exposure BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: exposure keeps every row'); END;
CREATE TRIGGER keep_exposure_delete BEFORE DELETE ON exposure BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: exposure keeps every row'); END;
CREATE TRIGGER keep_exposure_replace BEFORE INSERT ON exposure WHEN EXISTS (SELECT 1 FROM exposure WHERE entry_number = NEW.entry_number AND position = NEW.position) BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: exposure keeps every row'); END;
CREATE TRIGGER keep_decision_update BEFORE UPDATE ON decision BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: decision keeps every row'); END;
CREATE TRIGGER keep_decision_delete BEFORE DELETE ON decision BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: decision keeps every row'); END;
CREATE TRIGGER keep_decision_replace BEFORE INSERT ON decision WHEN EXISTS (SELECT 1 FROM decision WHERE number = NEW.number) BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: decision keeps every row'); END;
CREATE TRIGGER keep_note_update BEFORE UPDATE ON note BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: note keeps every row'); END;
CREATE TRIGGER keep_note_delete BEFORE DELETE ON note BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: note keeps every row'); END;
CREATE TRIGGER keep_note_replace BEFORE INSERT ON note WHEN EXISTS (SELECT 1 FROM note WHERE number = NEW.number) BEGIN SELECT RAISE(ABORT, 'the ledger is never edited in place: note keeps every row'); END;
COMMIT;
