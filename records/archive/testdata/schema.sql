CREATE TABLE bags (
  number INTEGER NOT NULL,
  job TEXT NOT NULL,
  head TEXT NOT NULL,
  entries INTEGER NOT NULL,
  sha256 TEXT NOT NULL,
  bytes INTEGER NOT NULL,
  taken TEXT NOT NULL,
  name TEXT NOT NULL,
  policy INTEGER NOT NULL,
  partly INTEGER NOT NULL,
  hashes BLOB NOT NULL,
  PRIMARY KEY (number)
) STRICT, WITHOUT ROWID;

CREATE TABLE quarantine (
  number INTEGER NOT NULL,
  sha256 TEXT NOT NULL,
  bytes INTEGER NOT NULL,
  taken TEXT NOT NULL,
  name TEXT NOT NULL,
  policy INTEGER NOT NULL,
  job TEXT NOT NULL,
  id TEXT NOT NULL,
  head TEXT NOT NULL,
  reasons TEXT NOT NULL,
  PRIMARY KEY (number)
) STRICT, WITHOUT ROWID;

CREATE TABLE policies (
  number INTEGER NOT NULL,
  part TEXT NOT NULL,
  since TEXT NOT NULL,
  name TEXT NOT NULL,
  body BLOB NOT NULL,
  PRIMARY KEY (number, part)
) STRICT, WITHOUT ROWID;

CREATE TABLE log_keys (
  number INTEGER NOT NULL,
  origin TEXT NOT NULL,
  public_key TEXT NOT NULL,
  since TEXT NOT NULL,
  PRIMARY KEY (number)
) STRICT, WITHOUT ROWID;

CREATE TABLE leaves (
  number INTEGER NOT NULL,
  bag INTEGER NOT NULL,
  body BLOB NOT NULL,
  PRIMARY KEY (number)
) STRICT, WITHOUT ROWID;

CREATE TABLE log_hashes (
  place INTEGER NOT NULL,
  hash BLOB NOT NULL,
  PRIMARY KEY (place)
) STRICT, WITHOUT ROWID;

CREATE TABLE removals (
  number INTEGER NOT NULL,
  bag INTEGER NOT NULL,
  sha256 TEXT NOT NULL,
  bytes INTEGER NOT NULL,
  removed TEXT NOT NULL,
  person TEXT NOT NULL,
  why TEXT NOT NULL,
  body BLOB NOT NULL,
  PRIMARY KEY (number)
) STRICT, WITHOUT ROWID;

CREATE TABLE keeps (
  number INTEGER NOT NULL,
  job TEXT NOT NULL,
  plan TEXT NOT NULL,
  until TEXT NOT NULL,
  years INTEGER NOT NULL,
  person TEXT NOT NULL,
  why TEXT NOT NULL,
  since TEXT NOT NULL,
  PRIMARY KEY (number)
) STRICT, WITHOUT ROWID;

CREATE TABLE states (
  job TEXT NOT NULL,
  head TEXT NOT NULL,
  id TEXT NOT NULL,
  entries INTEGER NOT NULL,
  newest INTEGER NOT NULL,
  newests INTEGER NOT NULL,
  removed INTEGER NOT NULL,
  plan TEXT NOT NULL,
  plan_hash TEXT NOT NULL,
  title TEXT NOT NULL,
  site TEXT NOT NULL,
  work TEXT NOT NULL,
  permit TEXT NOT NULL,
  client TEXT NOT NULL,
  firm TEXT NOT NULL,
  client_order TEXT NOT NULL,
  document TEXT NOT NULL,
  opened TEXT NOT NULL,
  last TEXT NOT NULL,
  verdict TEXT NOT NULL,
  standing TEXT NOT NULL,
  signed TEXT NOT NULL,
  program TEXT NOT NULL,
  PRIMARY KEY (job, head)
) STRICT, WITHOUT ROWID;

CREATE TABLE plants (
  job TEXT NOT NULL,
  head TEXT NOT NULL,
  plant TEXT NOT NULL,
  sort TEXT NOT NULL,
  name TEXT NOT NULL,
  maker TEXT NOT NULL,
  plain TEXT NOT NULL,
  serial TEXT NOT NULL,
  year TEXT NOT NULL,
  asset TEXT NOT NULL,
  PRIMARY KEY (job, head, plant)
) STRICT, WITHOUT ROWID;

CREATE TABLE checks (
  job TEXT NOT NULL,
  head TEXT NOT NULL,
  check_id TEXT NOT NULL,
  number INTEGER NOT NULL,
  kind TEXT NOT NULL,
  title TEXT NOT NULL,
  place TEXT NOT NULL,
  verdict TEXT NOT NULL,
  stands TEXT NOT NULL,
  attempts INTEGER NOT NULL,
  judged TEXT NOT NULL,
  PRIMARY KEY (job, head, check_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE readings (
  job TEXT NOT NULL,
  head TEXT NOT NULL,
  check_id TEXT NOT NULL,
  attempt INTEGER NOT NULL,
  field TEXT NOT NULL,
  label TEXT NOT NULL,
  quantity TEXT NOT NULL,
  unit TEXT NOT NULL,
  value REAL,
  bound TEXT NOT NULL,
  typed TEXT NOT NULL,
  meter_error REAL,
  serial TEXT NOT NULL,
  taken TEXT NOT NULL,
  person TEXT NOT NULL,
  verdict TEXT NOT NULL,
  newest INTEGER NOT NULL,
  entry INTEGER NOT NULL,
  PRIMARY KEY (job, head, check_id, attempt, field)
) STRICT, WITHOUT ROWID;

CREATE TABLE results (
  job TEXT NOT NULL,
  head TEXT NOT NULL,
  check_id TEXT NOT NULL,
  attempt INTEGER NOT NULL,
  value_key TEXT NOT NULL,
  name TEXT NOT NULL,
  unit TEXT NOT NULL,
  value REAL,
  bound TEXT NOT NULL,
  uncertainty REAL,
  standard REAL,
  low REAL,
  high REAL,
  source TEXT NOT NULL,
  rule TEXT NOT NULL,
  verdict TEXT NOT NULL,
  judged TEXT NOT NULL,
  newest INTEGER NOT NULL,
  lapsed INTEGER NOT NULL,
  serial TEXT NOT NULL,
  entry INTEGER NOT NULL,
  PRIMARY KEY (job, head, check_id, attempt, value_key)
) STRICT, WITHOUT ROWID;

CREATE TABLE instruments (
  job TEXT NOT NULL,
  head TEXT NOT NULL,
  serial TEXT NOT NULL,
  plain TEXT NOT NULL,
  meter TEXT NOT NULL,
  name TEXT NOT NULL,
  certificate TEXT NOT NULL,
  due TEXT NOT NULL,
  uses INTEGER NOT NULL,
  PRIMARY KEY (job, head, serial, meter)
) STRICT, WITHOUT ROWID;

CREATE TABLE people (
  job TEXT NOT NULL,
  head TEXT NOT NULL,
  person TEXT NOT NULL,
  name TEXT NOT NULL,
  plain TEXT NOT NULL,
  role TEXT NOT NULL,
  firm TEXT NOT NULL,
  entries INTEGER NOT NULL,
  PRIMARY KEY (job, head, person)
) STRICT, WITHOUT ROWID;

CREATE TABLE signatures (
  job TEXT NOT NULL,
  head TEXT NOT NULL,
  entry INTEGER NOT NULL,
  person TEXT NOT NULL,
  name TEXT NOT NULL,
  plain TEXT NOT NULL,
  role TEXT NOT NULL,
  signed TEXT NOT NULL,
  covers INTEGER NOT NULL,
  key TEXT NOT NULL,
  doubt TEXT NOT NULL,
  PRIMARY KEY (job, head, entry)
) STRICT, WITHOUT ROWID;

CREATE TABLE defects (
  job TEXT NOT NULL,
  head TEXT NOT NULL,
  number INTEGER NOT NULL,
  what TEXT NOT NULL,
  place TEXT NOT NULL,
  owner TEXT NOT NULL,
  due TEXT NOT NULL,
  holds TEXT NOT NULL,
  raised TEXT NOT NULL,
  entry INTEGER NOT NULL,
  closed TEXT NOT NULL,
  done TEXT NOT NULL,
  PRIMARY KEY (job, head, number)
) STRICT, WITHOUT ROWID;

CREATE TABLE concessions (
  job TEXT NOT NULL,
  head TEXT NOT NULL,
  entry INTEGER NOT NULL,
  check_id TEXT NOT NULL,
  attempt INTEGER NOT NULL,
  engineer TEXT NOT NULL,
  given TEXT NOT NULL,
  verdict TEXT NOT NULL,
  reason TEXT NOT NULL,
  stands INTEGER NOT NULL,
  void TEXT NOT NULL,
  PRIMARY KEY (job, head, entry)
) STRICT, WITHOUT ROWID;

CREATE TABLE texts (
  job TEXT NOT NULL,
  head TEXT NOT NULL,
  number INTEGER NOT NULL,
  source TEXT NOT NULL,
  entry INTEGER NOT NULL,
  said TEXT NOT NULL,
  plain TEXT NOT NULL,
  PRIMARY KEY (job, head, number)
) STRICT, WITHOUT ROWID;

CREATE TABLE searched (
  job TEXT NOT NULL,
  head TEXT NOT NULL,
  site TEXT NOT NULL,
  firm TEXT NOT NULL,
  PRIMARY KEY (job, head)
) STRICT, WITHOUT ROWID;

CREATE UNIQUE INDEX bags_by_state ON bags (job, head);

CREATE UNIQUE INDEX bags_by_sha256 ON bags (sha256);

CREATE INDEX removals_by_bag ON removals (bag);

CREATE INDEX leaves_by_bag ON leaves (bag);

CREATE INDEX quarantine_by_sha256 ON quarantine (sha256);

CREATE INDEX states_by_last ON states (last, job, head) WHERE (newest = 1);

CREATE INDEX states_by_id ON states (id);

CREATE INDEX states_by_head ON states (head);

CREATE INDEX states_by_plan ON states (plan, last);

CREATE INDEX plants_by_plant ON plants (plant);

CREATE INDEX plants_by_serial ON plants (serial);

CREATE INDEX plants_by_asset ON plants (asset);

CREATE INDEX checks_by_kind ON checks (kind, verdict);

CREATE INDEX instruments_by_serial ON instruments (serial);

CREATE INDEX instruments_by_plain ON instruments (plain);

CREATE INDEX defects_by_closed ON defects (closed);

CREATE TRIGGER bags_update BEFORE UPDATE ON bags BEGIN
  SELECT RAISE(ABORT, 'bags are only added: no UPDATE');
END;

CREATE TRIGGER bags_delete BEFORE DELETE ON bags BEGIN
  SELECT RAISE(ABORT, 'bags are only added: no DELETE');
END;

CREATE TRIGGER bags_insert BEFORE INSERT ON bags BEGIN
  SELECT RAISE(ABORT, 'bags are only added: this one is there')
   WHERE EXISTS (SELECT 1 FROM bags WHERE number = NEW.number);
END;

CREATE TRIGGER quarantine_update BEFORE UPDATE ON quarantine BEGIN
  SELECT RAISE(ABORT, 'quarantine are only added: no UPDATE');
END;

CREATE TRIGGER quarantine_delete BEFORE DELETE ON quarantine BEGIN
  SELECT RAISE(ABORT, 'quarantine are only added: no DELETE');
END;

CREATE TRIGGER quarantine_insert BEFORE INSERT ON quarantine BEGIN
  SELECT RAISE(ABORT, 'quarantine are only added: this one is there')
   WHERE EXISTS (SELECT 1 FROM quarantine WHERE number = NEW.number);
END;

CREATE TRIGGER policies_update BEFORE UPDATE ON policies BEGIN
  SELECT RAISE(ABORT, 'policies are only added: no UPDATE');
END;

CREATE TRIGGER policies_delete BEFORE DELETE ON policies BEGIN
  SELECT RAISE(ABORT, 'policies are only added: no DELETE');
END;

CREATE TRIGGER policies_insert BEFORE INSERT ON policies BEGIN
  SELECT RAISE(ABORT, 'policies are only added: this one is there')
   WHERE EXISTS (SELECT 1 FROM policies WHERE number = NEW.number AND part = NEW.part);
END;

CREATE TRIGGER log_keys_update BEFORE UPDATE ON log_keys BEGIN
  SELECT RAISE(ABORT, 'log_keys are only added: no UPDATE');
END;

CREATE TRIGGER log_keys_delete BEFORE DELETE ON log_keys BEGIN
  SELECT RAISE(ABORT, 'log_keys are only added: no DELETE');
END;

CREATE TRIGGER log_keys_insert BEFORE INSERT ON log_keys BEGIN
  SELECT RAISE(ABORT, 'log_keys are only added: this one is there')
   WHERE EXISTS (SELECT 1 FROM log_keys WHERE number = NEW.number);
END;

CREATE TRIGGER leaves_update BEFORE UPDATE ON leaves BEGIN
  SELECT RAISE(ABORT, 'leaves are only added: no UPDATE');
END;

CREATE TRIGGER leaves_delete BEFORE DELETE ON leaves BEGIN
  SELECT RAISE(ABORT, 'leaves are only added: no DELETE');
END;

CREATE TRIGGER leaves_insert BEFORE INSERT ON leaves BEGIN
  SELECT RAISE(ABORT, 'leaves are only added: this one is there')
   WHERE EXISTS (SELECT 1 FROM leaves WHERE number = NEW.number);
END;

CREATE TRIGGER log_hashes_update BEFORE UPDATE ON log_hashes BEGIN
  SELECT RAISE(ABORT, 'log_hashes are only added: no UPDATE');
END;

CREATE TRIGGER log_hashes_delete BEFORE DELETE ON log_hashes BEGIN
  SELECT RAISE(ABORT, 'log_hashes are only added: no DELETE');
END;

CREATE TRIGGER log_hashes_insert BEFORE INSERT ON log_hashes BEGIN
  SELECT RAISE(ABORT, 'log_hashes are only added: this one is there')
   WHERE EXISTS (SELECT 1 FROM log_hashes WHERE place = NEW.place);
END;

CREATE TRIGGER removals_update BEFORE UPDATE ON removals BEGIN
  SELECT RAISE(ABORT, 'removals are only added: no UPDATE');
END;

CREATE TRIGGER removals_delete BEFORE DELETE ON removals BEGIN
  SELECT RAISE(ABORT, 'removals are only added: no DELETE');
END;

CREATE TRIGGER removals_insert BEFORE INSERT ON removals BEGIN
  SELECT RAISE(ABORT, 'removals are only added: this one is there')
   WHERE EXISTS (SELECT 1 FROM removals WHERE number = NEW.number);
END;

CREATE TRIGGER keeps_update BEFORE UPDATE ON keeps BEGIN
  SELECT RAISE(ABORT, 'keeps are only added: no UPDATE');
END;

CREATE TRIGGER keeps_delete BEFORE DELETE ON keeps BEGIN
  SELECT RAISE(ABORT, 'keeps are only added: no DELETE');
END;

CREATE TRIGGER keeps_insert BEFORE INSERT ON keeps BEGIN
  SELECT RAISE(ABORT, 'keeps are only added: this one is there')
   WHERE EXISTS (SELECT 1 FROM keeps WHERE number = NEW.number);
END;

CREATE TRIGGER bags_follow BEFORE INSERT ON bags BEGIN
  SELECT RAISE(ABORT, 'bags are only added: number does not follow')
   WHERE NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM bags);
  SELECT RAISE(ABORT, 'bags are only added: this one is there')
   WHERE EXISTS (SELECT 1 FROM bags WHERE sha256 = NEW.sha256 OR job = NEW.job AND head = NEW.head);
END;

CREATE TRIGGER leaves_follow BEFORE INSERT ON leaves BEGIN
  SELECT RAISE(ABORT, 'leaves are only added: number does not follow')
   WHERE NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM leaves);
END;

