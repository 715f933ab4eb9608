-- A catalog of schema 1, as the program wrote it before there were frames and surveys.
BEGIN TRANSACTION;
CREATE TABLE blocks (
	car INTEGER NOT NULL, 
	place INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	from_mm DOUBLE NOT NULL, 
	to_mm DOUBLE NOT NULL, 
	left_mm DOUBLE NOT NULL, 
	right_mm DOUBLE NOT NULL, 
	bottom_mm DOUBLE NOT NULL, 
	top_mm DOUBLE NOT NULL, 
	PRIMARY KEY (car, place), 
	FOREIGN KEY(car) REFERENCES cars (number)
);
INSERT INTO "blocks" VALUES(2,0,'tank',0.0,300.0,40.0,40.0,60.0,160.0);
INSERT INTO "blocks" VALUES(2,1,'dome',140.0,160.0,50.0,50.0,0.0,180.0);
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
INSERT INTO "car_history" VALUES(3,1,0,1,'{"height_mm": 190.0, "width_mm": 105.0, "length_mm": 500.0, "wheelbase_mm": 300.0, "truck_wheelbase_mm": 0.0, "id": "10", "name": "", "kind": "", "owner": "", "notes": "", "dimensions": "model", "weight": "", "measured_by": "", "blocks": []}');
INSERT INTO "car_history" VALUES(2,1,0,1,'{"scale": 22.5, "height_mm": 180.0, "width_mm": 100.0, "length_mm": 300.0, "wheelbase_mm": 150.0, "truck_wheelbase_mm": 0.0, "id": "G 4", "name": "", "kind": "", "owner": "", "notes": "", "dimensions": "full-size", "weight": "", "measured_by": "", "blocks": [{"name": "tank", "from_mm": 0.0, "to_mm": 300.0, "left_mm": 40.0, "right_mm": 40.0, "bottom_mm": 60.0, "top_mm": 160.0}, {"name": "dome", "from_mm": 140.0, "to_mm": 160.0, "left_mm": 50.0, "right_mm": 50.0, "bottom_mm": 0.0, "top_mm": 180.0}]}');
INSERT INTO "car_history" VALUES(2,2,0,3,'{"scale": 22.5, "height_mm": 180.0, "width_mm": 100.0, "length_mm": 300.0, "wheelbase_mm": 150.0, "truck_wheelbase_mm": 0.0, "id": "G 4", "name": "", "kind": "", "owner": "Cem", "notes": "", "dimensions": "full-size", "weight": "", "measured_by": "", "blocks": [{"name": "tank", "from_mm": 0.0, "to_mm": 300.0, "left_mm": 40.0, "right_mm": 40.0, "bottom_mm": 60.0, "top_mm": 160.0}, {"name": "dome", "from_mm": 140.0, "to_mm": 160.0, "left_mm": 50.0, "right_mm": 50.0, "bottom_mm": 0.0, "top_mm": 180.0}]}');
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
	wheelbase_mm DOUBLE NOT NULL, 
	truck_wheelbase_mm DOUBLE NOT NULL, 
	front_overhang_mm DOUBLE, 
	rear_overhang_mm DOUBLE, 
	length_over_couplers_mm DOUBLE, 
	underside_mm DOUBLE, 
	minimum_radius_mm DOUBLE, 
	side_play_mm DOUBLE, 
	tolerance_mm DOUBLE, 
	version INTEGER DEFAULT '1' NOT NULL, 
	retired BOOLEAN DEFAULT 0 NOT NULL, 
	change INTEGER NOT NULL, 
	PRIMARY KEY (number), 
	UNIQUE (id), 
	FOREIGN KEY(change) REFERENCES changes (number)
);
INSERT INTO "cars" VALUES(1,'27','Bergwerk''s "Emma"','boxcar','Ann','two
lines; =1+1','model','2.4 kg','Bob','2026-05-01',22.5,45.0,216.0,112.0,650.0,400.0,80.0,120.0,130.0,690.0,12.5,600.0,1.5,0.5,1,0,1);
INSERT INTO "cars" VALUES(2,'G 4','','','Cem','','full-size','','','',22.5,NULL,180.0,100.0,300.0,150.0,0.0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,3,1,4);
INSERT INTO "cars" VALUES(3,'10','Otto','','','','model','','','',NULL,NULL,191.0,105.0,500.0,300.0,0.0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,2,0,2);
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
INSERT INTO "changes" VALUES(1,'import','2026-05-30T09:01:00+00:00','Ann',3,0,0);
INSERT INTO "changes" VALUES(2,'edit','2026-05-30T09:02:00+00:00','Bob',0,1,0);
INSERT INTO "changes" VALUES(3,'edit','2026-05-30T09:03:00+00:00','Bob',0,1,0);
INSERT INTO "changes" VALUES(4,'retire','2026-05-30T09:04:00+00:00','Ann',0,1,0);
INSERT INTO "changes" VALUES(5,'add helix','2026-05-30T09:05:00+00:00','Ann',1,0,0);
INSERT INTO "changes" VALUES(6,'add helix','2026-05-30T09:06:00+00:00','Bob',0,1,0);
INSERT INTO "changes" VALUES(7,'add helix','2026-05-30T09:07:00+00:00','Ann',1,0,0);
INSERT INTO "changes" VALUES(8,'retire helix','2026-05-30T09:08:00+00:00','Ann',0,1,0);
INSERT INTO "changes" VALUES(9,'add helix','2026-05-30T09:09:00+00:00','Ann',1,0,0);
CREATE TABLE clearance_schema (
	number INTEGER NOT NULL
);
INSERT INTO "clearance_schema" VALUES(1);
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
INSERT INTO "helices" VALUES(1,'Quarry Bank helix','{"name":"Quarry Bank helix","gauge_mm":45.0,"turns":2.5,"rise_per_turn_mm":290.0,"brackets_per_turn":12,"climbs":"counterclockwise","tracks":[{"name":"inner","radius_mm":1190.0,"cant_mm":0.0},{"name":"outer","radius_mm":1380.0,"cant_mm":3.0}],"deck":{"depth_mm":38.0,"beam_depth_mm":24.0,"beam_width_mm":38.0},"posts":{"inside_mm":"none","outside_mm":120.0},"allowance":{"overhead_mm":null,"side_mm":null,"meeting_mm":null,"play_mm":null,"headroom_reading_mm":null,"settlement_mm":null},"adjusters":{"pitch_mm":1.25,"step":0.25,"travel_mm":40.0},"profile":[{"station":-6.0,"railhead_mm":0.0}],"obstacles":[],"leads":[]}',2,0,6);
INSERT INTO "helices" VALUES(2,'attic','{"name":"attic","gauge_mm":45.0,"turns":2.5,"rise_per_turn_mm":280.0,"brackets_per_turn":12,"climbs":"counterclockwise","tracks":[{"name":"inner","radius_mm":1190.0,"cant_mm":0.0},{"name":"outer","radius_mm":1380.0,"cant_mm":3.0}],"deck":{"depth_mm":38.0,"beam_depth_mm":24.0,"beam_width_mm":38.0},"posts":{"inside_mm":"none","outside_mm":120.0},"allowance":{"overhead_mm":null,"side_mm":null,"meeting_mm":null,"play_mm":null,"headroom_reading_mm":null,"settlement_mm":null},"adjusters":null,"profile":[],"obstacles":[],"leads":[]}',2,1,8);
INSERT INTO "helices" VALUES(3,'old shed','{"name":"old shed","gauge_mm":45.0,"turns":2.5,"rise_per_turn_mm":285.0,"brackets_per_turn":12,"climbs":"counterclockwise","tracks":[{"name":"inner","radius_mm":1190.0,"cant_mm":0.0},{"name":"outer","radius_mm":1380.0,"cant_mm":3.0}],"deck":{"depth_mm":38.0,"beam_depth_mm":24.0,"beam_width_mm":38.0},"posts":{"inside_mm":"none","outside_mm":120.0},"allowance":{"overhead_mm":null,"side_mm":null,"meeting_mm":null,"play_mm":null,"headroom_reading_mm":null,"settlement_mm":null},"adjusters":null,"profile":[],"obstacles":[{"name":"lamp","track":"","station":null,"distance_mm":500.0,"headroom_mm":240.0,"left_mm":null,"right_mm":null,"width_mm":null}],"leads":[]}',1,0,9);
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
INSERT INTO "helix_history" VALUES(1,1,0,5,'{"name":"Quarry Bank helix","gauge_mm":45.0,"turns":2.5,"rise_per_turn_mm":285.0,"brackets_per_turn":12,"climbs":"counterclockwise","tracks":[{"name":"inner","radius_mm":1190.0,"cant_mm":0.0},{"name":"outer","radius_mm":1380.0,"cant_mm":3.0}],"deck":{"depth_mm":38.0,"beam_depth_mm":24.0,"beam_width_mm":38.0},"posts":{"inside_mm":"none","outside_mm":120.0},"allowance":{"overhead_mm":null,"side_mm":null,"meeting_mm":null,"play_mm":null,"headroom_reading_mm":null,"settlement_mm":null},"adjusters":null,"profile":[],"obstacles":[{"name":"lamp","track":"inner","station":4.5,"distance_mm":null,"headroom_mm":240.0,"left_mm":null,"right_mm":null,"width_mm":null}],"leads":[{"at":"foot","length_mm":2000.0,"grade":0.01}]}');
INSERT INTO "helix_history" VALUES(2,1,0,7,'{"name":"attic","gauge_mm":45.0,"turns":2.5,"rise_per_turn_mm":280.0,"brackets_per_turn":12,"climbs":"counterclockwise","tracks":[{"name":"inner","radius_mm":1190.0,"cant_mm":0.0},{"name":"outer","radius_mm":1380.0,"cant_mm":3.0}],"deck":{"depth_mm":38.0,"beam_depth_mm":24.0,"beam_width_mm":38.0},"posts":{"inside_mm":"none","outside_mm":120.0},"allowance":{"overhead_mm":null,"side_mm":null,"meeting_mm":null,"play_mm":null,"headroom_reading_mm":null,"settlement_mm":null},"adjusters":null,"profile":[],"obstacles":[],"leads":[]}');
COMMIT;
