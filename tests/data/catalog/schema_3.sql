-- A catalog of schema 3, as the program wrote it before a car could say how many axles it has.
BEGIN TRANSACTION;
CREATE TABLE blocks (
	car INTEGER NOT NULL, 
	place INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	frame TEXT DEFAULT '' NOT NULL, 
	from_mm DOUBLE NOT NULL, 
	to_mm DOUBLE NOT NULL, 
	left_mm DOUBLE NOT NULL, 
	right_mm DOUBLE NOT NULL, 
	bottom_mm DOUBLE NOT NULL, 
	top_mm DOUBLE NOT NULL, 
	PRIMARY KEY (car, place), 
	FOREIGN KEY(car) REFERENCES cars (number)
);
CREATE TABLE car_history (
	car INTEGER NOT NULL, 
	version INTEGER NOT NULL, 
	retired BOOLEAN NOT NULL, 
	change INTEGER NOT NULL, 
	document TEXT NOT NULL, 
	PRIMARY KEY (car, version), 
	FOREIGN KEY(car) REFERENCES cars (number), 
	FOREIGN KEY(change) REFERENCES changes (number)
);
CREATE TABLE cars (
	number INTEGER NOT NULL, 
	id TEXT NOT NULL, 
	name TEXT DEFAULT '' NOT NULL, 
	kind TEXT DEFAULT '' NOT NULL, 
	owner TEXT DEFAULT '' NOT NULL, 
	notes TEXT DEFAULT '' NOT NULL, 
	dimensions TEXT DEFAULT '' NOT NULL, 
	weight TEXT DEFAULT '' NOT NULL, 
	measured_by TEXT DEFAULT '' NOT NULL, 
	measured_on TEXT DEFAULT '' NOT NULL, 
	scale DOUBLE, 
	gauge_mm DOUBLE, 
	height_mm DOUBLE NOT NULL, 
	width_mm DOUBLE NOT NULL, 
	length_mm DOUBLE NOT NULL, 
	wheelbase_mm DOUBLE, 
	truck_wheelbase_mm DOUBLE NOT NULL, 
	front_overhang_mm DOUBLE, 
	rear_overhang_mm DOUBLE, 
	length_over_couplers_mm DOUBLE, 
	underside_mm DOUBLE, 
	minimum_radius_mm DOUBLE, 
	side_play_mm DOUBLE, 
	truck_swing_deg DOUBLE, 
	coupler_swing_mm DOUBLE, 
	coupler_drop_mm DOUBLE, 
	coupler_angle_deg DOUBLE, 
	tolerance_mm DOUBLE, 
	version INTEGER DEFAULT '1' NOT NULL, 
	retired BOOLEAN DEFAULT 0 NOT NULL, 
	change INTEGER NOT NULL, 
	PRIMARY KEY (number), 
	UNIQUE (id), 
	FOREIGN KEY(change) REFERENCES changes (number)
);
INSERT INTO "cars" VALUES(1,'27','Emma','','','','model','','','',NULL,NULL,216.0,112.0,650.0,400.0,0.0,NULL,NULL,NULL,NULL,NULL,1.5,NULL,NULL,NULL,NULL,NULL,1,0,2);
CREATE TABLE changes (
	number INTEGER NOT NULL, 
	what TEXT NOT NULL, 
	made_at TEXT NOT NULL, 
	made_by TEXT NOT NULL, 
	added INTEGER NOT NULL, 
	changed INTEGER NOT NULL, 
	unchanged INTEGER NOT NULL, 
	PRIMARY KEY (number)
);
INSERT INTO "changes" VALUES(1,'add helix','2026-05-30T09:01:00+00:00','Ann',1,0,0);
INSERT INTO "changes" VALUES(2,'add','2026-05-30T09:02:00+00:00','Bob',1,0,0);
INSERT INTO "changes" VALUES(3,'add survey','2026-05-30T09:03:00+00:00','Cem',1,0,0);
CREATE TABLE clearance_schema (
	number INTEGER NOT NULL
);
INSERT INTO "clearance_schema" VALUES(3);
CREATE TABLE frames (
	car INTEGER NOT NULL, 
	place INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	rear_on TEXT NOT NULL, 
	front_on TEXT NOT NULL, 
	rear_support_mm DOUBLE NOT NULL, 
	front_support_mm DOUBLE NOT NULL, 
	PRIMARY KEY (car, place), 
	FOREIGN KEY(car) REFERENCES cars (number)
);
CREATE TABLE helices (
	number INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	document TEXT NOT NULL, 
	version INTEGER NOT NULL, 
	retired BOOLEAN NOT NULL, 
	change INTEGER NOT NULL, 
	PRIMARY KEY (number), 
	UNIQUE (name), 
	FOREIGN KEY(change) REFERENCES changes (number)
);
INSERT INTO "helices" VALUES(1,'Quarry Bank helix','{"name":"Quarry Bank helix","gauge_mm":45.0,"turns":2.5,"rise_per_turn_mm":290.0,"brackets_per_turn":12,"climbs":"counterclockwise","tracks":[{"name":"inner","radius_mm":1190.0,"cant_mm":0.0},{"name":"outer","radius_mm":1380.0,"cant_mm":3.0}],"deck":{"depth_mm":38.0,"beam_depth_mm":24.0,"beam_width_mm":38.0},"posts":{"inside_mm":"none","outside_mm":120.0},"allowance":{"overhead_mm":null,"side_mm":null,"meeting_mm":null,"play_mm":null,"headroom_reading_mm":null,"settlement_mm":null,"survey_every_months":null},"adjusters":{"pitch_mm":1.25,"step":0.25,"travel_mm":40.0,"wrench":""},"profile":[{"station":-6.0,"railhead_mm":0.0}],"obstacles":[],"leads":[],"recovery":{"hand_mm":null},"stringers":null}',1,0,1);
CREATE TABLE helix_history (
	helix INTEGER NOT NULL, 
	version INTEGER NOT NULL, 
	retired BOOLEAN NOT NULL, 
	change INTEGER NOT NULL, 
	document TEXT NOT NULL, 
	PRIMARY KEY (helix, version), 
	FOREIGN KEY(helix) REFERENCES helices (number), 
	FOREIGN KEY(change) REFERENCES changes (number)
);
CREATE TABLE surveys (
	number INTEGER NOT NULL, 
	helix INTEGER NOT NULL, 
	taken_on TEXT NOT NULL, 
	change INTEGER NOT NULL, 
	document TEXT NOT NULL, 
	approved INTEGER, 
	PRIMARY KEY (number), 
	FOREIGN KEY(helix) REFERENCES helices (number), 
	FOREIGN KEY(change) REFERENCES changes (number), 
	FOREIGN KEY(approved) REFERENCES changes (number)
);
INSERT INTO "surveys" VALUES(1,1,'2025-10-04',3,'{"readings":[{"station":3.0,"track":"","railhead_mm":71.0,"headroom_mm":null,"taken_on":"2025-10-04","taken_by":"Ann"}]}',3);
COMMIT;
