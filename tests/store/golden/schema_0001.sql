BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE change (
	id TEXT NOT NULL, 
	seq INTEGER NOT NULL, 
	at DATETIME NOT NULL, 
	who TEXT NOT NULL, 
	what TEXT NOT NULL, 
	CONSTRAINT pk_change PRIMARY KEY (id), 
	CONSTRAINT uq_change_seq UNIQUE (seq)
);
INSERT INTO "change" VALUES('35b1cbd615818c4b',1,'2026-10-04 18:02:07.000000','the computer','Took in Teasel from teasel.toml');
INSERT INTO "change" VALUES('a7a015db96ca8382',2,'2026-10-11 17:42:07.250000','bench telephone','Snag: Schraube rund gedreht, M6 – links');
INSERT INTO "change" VALUES('f1d98589a62d3223',3,'2026-10-11 18:05:07.000000','bench telephone','Took away finding f2: tank scratched');
INSERT INTO "change" VALUES('22b2facb47c65206',4,'2026-10-12 19:30:07.250000','bench telephone','Noted: clutch lever bent');
INSERT INTO "change" VALUES('88a31ef2cda4c3f8',5,'2026-10-14 16:01:07.000000','bench telephone','Arrived: lever, short');
INSERT INTO "change" VALUES('dd2c5ce8e831b36a',6,'2026-10-15 20:00:07.000000','the computer','Took in Burdock');
INSERT INTO "change" VALUES('0c1d95387255beaa',7,'2026-10-15 20:01:07.000000','the computer','Took in Fennel');
INSERT INTO "change" VALUES('9dfe4297264c6dff',8,'2026-10-16 09:12:07.000000','the computer','Took away Burdock');
INSERT INTO "change" VALUES('c9e1ab3a4d007640',9,'2026-10-18 19:55:07.000000','bench telephone','Changed finding f3: can hurt');
CREATE TABLE machine (
	uid TEXT NOT NULL, 
	nickname TEXT NOT NULL, 
	nickname_key TEXT, 
	CONSTRAINT pk_machine PRIMARY KEY (uid), 
	CONSTRAINT uq_machine_nickname_key UNIQUE (nickname_key)
);
INSERT INTO "machine" VALUES('0b52ce98137fd46a','Fennel','fennel');
INSERT INTO "machine" VALUES('90b7e4d2116fac35','Burdock',NULL);
INSERT INTO "machine" VALUES('f3a1c07e5b2d9468','Teasel','teasel');
CREATE TABLE operation (
	device TEXT NOT NULL, 
	op TEXT NOT NULL, 
	body_hash TEXT NOT NULL, 
	at DATETIME NOT NULL, 
	result TEXT NOT NULL, 
	change_id TEXT, 
	CONSTRAINT pk_operation PRIMARY KEY (device, op), 
	CONSTRAINT fk_operation_change_id_change FOREIGN KEY(change_id) REFERENCES change (id)
);
INSERT INTO "operation" VALUES('7c1e90aa','op-4f6b2a90d1c3','acc0579dc6706237bb51eb13efda6e9ac3b9565907057838a95853ccf07ffd89','2026-10-11 17:42:07.250000','{"handle":"tap1","said":"Snag kept"}','a7a015db96ca8382');
INSERT INTO "operation" VALUES('7c1e90aa','op-b07d51e2aa94','a2e5b1fa17ca62da105a2ca425cd64a114f2a215a8fef73b873ac0421c83a60e','2026-10-12 19:30:07.250000','{"handle":"f3"}','22b2facb47c65206');
INSERT INTO "operation" VALUES('7c1e90aa','op-c1e2d3f4a5b6','53529488438dd4e7cda37224d2e2605d0d5d32aa4d1f410c06e78e0cae91fa67','2026-10-18 19:55:07.250000','{"said":"Nothing to change"}',NULL);
CREATE TABLE record_row (
	machine TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	handle TEXT NOT NULL, 
	place INTEGER NOT NULL, 
	rev INTEGER NOT NULL, 
	body TEXT, 
	CONSTRAINT pk_record_row PRIMARY KEY (machine, kind, handle), 
	CONSTRAINT fk_record_row_machine_machine FOREIGN KEY(machine) REFERENCES machine (uid), 
	CONSTRAINT ck_record_row_rev CHECK (rev >= 1)
);
INSERT INTO "record_row" VALUES('0b52ce98137fd46a','calendar','calendar',0,1,'{}');
INSERT INTO "record_row" VALUES('0b52ce98137fd46a','findings','f1',0,1,'{"id":"f1","what":"rear light broken"}');
INSERT INTO "record_row" VALUES('0b52ce98137fd46a','machine','machine',0,1,'{"machine_class":"single","nickname":"Fennel","year":2012}');
INSERT INTO "record_row" VALUES('0b52ce98137fd46a','market','market',0,1,'{}');
INSERT INTO "record_row" VALUES('0b52ce98137fd46a','owner','owner',0,1,'{}');
INSERT INTO "record_row" VALUES('0b52ce98137fd46a','purchase','purchase',0,1,'{}');
INSERT INTO "record_row" VALUES('90b7e4d2116fac35','calendar','calendar',0,2,NULL);
INSERT INTO "record_row" VALUES('90b7e4d2116fac35','findings','f1',0,2,NULL);
INSERT INTO "record_row" VALUES('90b7e4d2116fac35','machine','machine',0,2,NULL);
INSERT INTO "record_row" VALUES('90b7e4d2116fac35','market','market',0,2,NULL);
INSERT INTO "record_row" VALUES('90b7e4d2116fac35','owner','owner',0,2,NULL);
INSERT INTO "record_row" VALUES('90b7e4d2116fac35','purchase','purchase',0,2,NULL);
INSERT INTO "record_row" VALUES('f3a1c07e5b2d9468','calendar','calendar',0,1,'{"attendance":0.6,"days_off":["2026-12-25"],"weekday_minutes":[0,120,0,0,90,240,0]}');
INSERT INTO "record_row" VALUES('f3a1c07e5b2d9468','findings','f1',0,1,'{"id":"f1","what":"left mirror gone"}');
INSERT INTO "record_row" VALUES('f3a1c07e5b2d9468','findings','f2',1,2,NULL);
INSERT INTO "record_row" VALUES('f3a1c07e5b2d9468','findings','f3',2,2,'{"condition":"''wiggles''; \"not\" broken","id":"f3","photos":["9f2e6c1db0a54877e1c3f2d4b5a69788796a5b4c3d2e1f00112233445566778a"],"severity":3,"sure":0.8,"what":"clutch lever bent"}');
INSERT INTO "record_row" VALUES('f3a1c07e5b2d9468','jobs','j1',0,1,'{"id":"j1","kind":"clean","minutes":{"high":25.5,"likely":10.0,"low":5.0},"name":"dry the plugs","parts":["lever"]}');
INSERT INTO "record_row" VALUES('f3a1c07e5b2d9468','machine','machine',0,1,'{"as_of":"2026-10-18","covers_off":["tank_off"],"extra":{"first seen":"behind the barn"},"machine_class":"naked","maker_and_model":"Quillhaven Swift 640","nickname":"Teasel","odometer":21700.0,"seed":41,"turns_over":"yes","uid":"f3a1c07e5b2d9468","what_hit":["left"],"year":2017}');
INSERT INTO "record_row" VALUES('f3a1c07e5b2d9468','market','market',0,1,'{"sound_value":{"high_minor":480000,"likely_minor":450000,"low_minor":410000}}');
INSERT INTO "record_row" VALUES('f3a1c07e5b2d9468','owner','owner',0,1,'{"aim":"keep","extra":{"shelf":"left, above the vice"}}');
INSERT INTO "record_row" VALUES('f3a1c07e5b2d9468','parts','lever',0,2,'{"component":"lever_clutch","id":"lever","name":"lever, short","ordered_on":"2026-10-05","price_minor":2450,"state":"here"}');
INSERT INTO "record_row" VALUES('f3a1c07e5b2d9468','purchase','purchase',0,1,'{"bought":true,"date":"2026-10-03","freight_minor":6000,"price_minor":118000}');
INSERT INTO "record_row" VALUES('f3a1c07e5b2d9468','taps','tap1',0,1,'{"at":"2026-10-11T19:42:07","by":"bench telephone","id":"tap1","note":"Schraube rund gedreht, M6 – links","photos":["9f2e6c1db0a54877e1c3f2d4b5a69788796a5b4c3d2e1f00112233445566778a"],"what":"snag"}');
INSERT INTO "record_row" VALUES('f3a1c07e5b2d9468','taps','tap2',1,2,'{"id":"tap2","what":"left_loose"}');
CREATE TABLE row_image (
	machine TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	handle TEXT NOT NULL, 
	rev INTEGER NOT NULL, 
	change_id TEXT NOT NULL, 
	place INTEGER NOT NULL, 
	"before" TEXT, 
	"after" TEXT, 
	record_format INTEGER NOT NULL, 
	CONSTRAINT pk_row_image PRIMARY KEY (machine, kind, handle, rev), 
	CONSTRAINT fk_row_image_change_id_change FOREIGN KEY(change_id) REFERENCES change (id), 
	CONSTRAINT fk_row_image_machine_kind_handle_record_row FOREIGN KEY(machine, kind, handle) REFERENCES record_row (machine, kind, handle)
);
INSERT INTO "row_image" VALUES('0b52ce98137fd46a','calendar','calendar',1,'0c1d95387255beaa',0,NULL,'{}',1);
INSERT INTO "row_image" VALUES('0b52ce98137fd46a','findings','f1',1,'0c1d95387255beaa',0,NULL,'{"id":"f1","what":"rear light broken"}',1);
INSERT INTO "row_image" VALUES('0b52ce98137fd46a','machine','machine',1,'0c1d95387255beaa',0,NULL,'{"machine_class":"single","nickname":"Fennel","year":2012}',1);
INSERT INTO "row_image" VALUES('0b52ce98137fd46a','market','market',1,'0c1d95387255beaa',0,NULL,'{}',1);
INSERT INTO "row_image" VALUES('0b52ce98137fd46a','owner','owner',1,'0c1d95387255beaa',0,NULL,'{}',1);
INSERT INTO "row_image" VALUES('0b52ce98137fd46a','purchase','purchase',1,'0c1d95387255beaa',0,NULL,'{}',1);
INSERT INTO "row_image" VALUES('f3a1c07e5b2d9468','findings','f3',1,'22b2facb47c65206',2,NULL,'{"condition":"''wiggles''; \"not\" broken","id":"f3","photos":["9f2e6c1db0a54877e1c3f2d4b5a69788796a5b4c3d2e1f00112233445566778a"],"sure":0.8,"what":"clutch lever bent"}',1);
INSERT INTO "row_image" VALUES('f3a1c07e5b2d9468','calendar','calendar',1,'35b1cbd615818c4b',0,NULL,'{"attendance":0.6,"days_off":["2026-12-25"],"weekday_minutes":[0,120,0,0,90,240,0]}',1);
INSERT INTO "row_image" VALUES('f3a1c07e5b2d9468','findings','f1',1,'35b1cbd615818c4b',0,NULL,'{"id":"f1","what":"left mirror gone"}',1);
INSERT INTO "row_image" VALUES('f3a1c07e5b2d9468','findings','f2',1,'35b1cbd615818c4b',1,NULL,'{"id":"f2","severity":1,"what":"tank scratched"}',1);
INSERT INTO "row_image" VALUES('f3a1c07e5b2d9468','jobs','j1',1,'35b1cbd615818c4b',0,NULL,'{"id":"j1","kind":"clean","minutes":{"high":25.5,"likely":10.0,"low":5.0},"name":"dry the plugs","parts":["lever"]}',1);
INSERT INTO "row_image" VALUES('f3a1c07e5b2d9468','machine','machine',1,'35b1cbd615818c4b',0,NULL,'{"as_of":"2026-10-18","covers_off":["tank_off"],"extra":{"first seen":"behind the barn"},"machine_class":"naked","maker_and_model":"Quillhaven Swift 640","nickname":"Teasel","odometer":21700.0,"seed":41,"turns_over":"yes","uid":"f3a1c07e5b2d9468","what_hit":["left"],"year":2017}',1);
INSERT INTO "row_image" VALUES('f3a1c07e5b2d9468','market','market',1,'35b1cbd615818c4b',0,NULL,'{"sound_value":{"high_minor":480000,"likely_minor":450000,"low_minor":410000}}',1);
INSERT INTO "row_image" VALUES('f3a1c07e5b2d9468','owner','owner',1,'35b1cbd615818c4b',0,NULL,'{"aim":"keep","extra":{"shelf":"left, above the vice"}}',1);
INSERT INTO "row_image" VALUES('f3a1c07e5b2d9468','parts','lever',1,'35b1cbd615818c4b',0,NULL,'{"component":"lever_clutch","id":"lever","name":"lever, short","ordered_on":"2026-10-05","price_minor":2450,"state":"ordered"}',1);
INSERT INTO "row_image" VALUES('f3a1c07e5b2d9468','purchase','purchase',1,'35b1cbd615818c4b',0,NULL,'{"bought":true,"date":"2026-10-03","freight_minor":6000,"price_minor":118000}',1);
INSERT INTO "row_image" VALUES('f3a1c07e5b2d9468','taps','tap2',1,'35b1cbd615818c4b',0,NULL,'{"id":"tap2","what":"left_loose"}',1);
INSERT INTO "row_image" VALUES('f3a1c07e5b2d9468','parts','lever',2,'88a31ef2cda4c3f8',0,'{"component":"lever_clutch","id":"lever","name":"lever, short","ordered_on":"2026-10-05","price_minor":2450,"state":"ordered"}','{"component":"lever_clutch","id":"lever","name":"lever, short","ordered_on":"2026-10-05","price_minor":2450,"state":"here"}',1);
INSERT INTO "row_image" VALUES('90b7e4d2116fac35','calendar','calendar',2,'9dfe4297264c6dff',0,'{}',NULL,1);
INSERT INTO "row_image" VALUES('90b7e4d2116fac35','findings','f1',2,'9dfe4297264c6dff',0,'{"id":"f1","what":"rear light broken"}',NULL,1);
INSERT INTO "row_image" VALUES('90b7e4d2116fac35','machine','machine',2,'9dfe4297264c6dff',0,'{"machine_class":"cruiser","nickname":"Burdock","year":2012}',NULL,1);
INSERT INTO "row_image" VALUES('90b7e4d2116fac35','market','market',2,'9dfe4297264c6dff',0,'{}',NULL,1);
INSERT INTO "row_image" VALUES('90b7e4d2116fac35','owner','owner',2,'9dfe4297264c6dff',0,'{}',NULL,1);
INSERT INTO "row_image" VALUES('90b7e4d2116fac35','purchase','purchase',2,'9dfe4297264c6dff',0,'{}',NULL,1);
INSERT INTO "row_image" VALUES('f3a1c07e5b2d9468','taps','tap1',1,'a7a015db96ca8382',0,NULL,'{"at":"2026-10-11T19:42:07","by":"bench telephone","id":"tap1","note":"Schraube rund gedreht, M6 – links","photos":["9f2e6c1db0a54877e1c3f2d4b5a69788796a5b4c3d2e1f00112233445566778a"],"what":"snag"}',1);
INSERT INTO "row_image" VALUES('f3a1c07e5b2d9468','taps','tap2',2,'a7a015db96ca8382',1,'{"id":"tap2","what":"left_loose"}','{"id":"tap2","what":"left_loose"}',1);
INSERT INTO "row_image" VALUES('f3a1c07e5b2d9468','findings','f3',2,'c9e1ab3a4d007640',2,'{"condition":"''wiggles''; \"not\" broken","id":"f3","photos":["9f2e6c1db0a54877e1c3f2d4b5a69788796a5b4c3d2e1f00112233445566778a"],"sure":0.8,"what":"clutch lever bent"}','{"condition":"''wiggles''; \"not\" broken","id":"f3","photos":["9f2e6c1db0a54877e1c3f2d4b5a69788796a5b4c3d2e1f00112233445566778a"],"severity":3,"sure":0.8,"what":"clutch lever bent"}',1);
INSERT INTO "row_image" VALUES('90b7e4d2116fac35','calendar','calendar',1,'dd2c5ce8e831b36a',0,NULL,'{}',1);
INSERT INTO "row_image" VALUES('90b7e4d2116fac35','findings','f1',1,'dd2c5ce8e831b36a',0,NULL,'{"id":"f1","what":"rear light broken"}',1);
INSERT INTO "row_image" VALUES('90b7e4d2116fac35','machine','machine',1,'dd2c5ce8e831b36a',0,NULL,'{"machine_class":"cruiser","nickname":"Burdock","year":2012}',1);
INSERT INTO "row_image" VALUES('90b7e4d2116fac35','market','market',1,'dd2c5ce8e831b36a',0,NULL,'{}',1);
INSERT INTO "row_image" VALUES('90b7e4d2116fac35','owner','owner',1,'dd2c5ce8e831b36a',0,NULL,'{}',1);
INSERT INTO "row_image" VALUES('90b7e4d2116fac35','purchase','purchase',1,'dd2c5ce8e831b36a',0,NULL,'{}',1);
INSERT INTO "row_image" VALUES('f3a1c07e5b2d9468','findings','f2',2,'f1d98589a62d3223',1,'{"id":"f2","severity":1,"what":"tank scratched"}',NULL,1);
CREATE INDEX ix_row_image_change_id ON row_image (change_id);
COMMIT;
