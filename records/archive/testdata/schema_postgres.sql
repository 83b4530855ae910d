BEGIN;

CREATE TABLE archive (
  version bigint NOT NULL,
  PRIMARY KEY (version)
);

CREATE TABLE files (
  place text COLLATE "C" NOT NULL,
  sha256 text COLLATE "C" NOT NULL,
  bytes bigint NOT NULL,
  body bytea NOT NULL,
  CONSTRAINT files_sha256 CHECK (sha256 = encode(sha256(body), 'hex')),
  CONSTRAINT files_bytes CHECK (bytes = length(body)),
  CONSTRAINT files_place CHECK (place IN ('bags', 'quarantine')),
  PRIMARY KEY (sha256, place)
);

CREATE TABLE bags (
  number bigint NOT NULL,
  job text COLLATE "C" NOT NULL,
  head text COLLATE "C" NOT NULL,
  entries bigint NOT NULL,
  sha256 text COLLATE "C" NOT NULL,
  bytes bigint NOT NULL,
  taken text COLLATE "C" NOT NULL,
  name text COLLATE "C" NOT NULL,
  policy bigint NOT NULL,
  partly smallint NOT NULL,
  hashes bytea NOT NULL,
  CONSTRAINT bags_hashes CHECK (length(hashes) = 32 * entries),
  CONSTRAINT bags_head CHECK (head = encode(substr(hashes, length(hashes) - 31), 'hex')),
  PRIMARY KEY (number)
);

CREATE TABLE quarantine (
  number bigint NOT NULL,
  sha256 text COLLATE "C" NOT NULL,
  bytes bigint NOT NULL,
  taken text COLLATE "C" NOT NULL,
  name text COLLATE "C" NOT NULL,
  policy bigint NOT NULL,
  job text COLLATE "C" NOT NULL,
  id text COLLATE "C" NOT NULL,
  head text COLLATE "C" NOT NULL,
  reasons text COLLATE "C" NOT NULL,
  PRIMARY KEY (number)
);

CREATE TABLE policies (
  number bigint NOT NULL,
  part text COLLATE "C" NOT NULL,
  since text COLLATE "C" NOT NULL,
  name text COLLATE "C" NOT NULL,
  body bytea NOT NULL,
  PRIMARY KEY (number, part)
);

CREATE TABLE log_keys (
  number bigint NOT NULL,
  origin text COLLATE "C" NOT NULL,
  public_key text COLLATE "C" NOT NULL,
  since text COLLATE "C" NOT NULL,
  PRIMARY KEY (number)
);

CREATE TABLE leaves (
  number bigint NOT NULL,
  bag bigint NOT NULL,
  body bytea NOT NULL,
  PRIMARY KEY (number)
);

CREATE TABLE log_hashes (
  place bigint NOT NULL,
  hash bytea NOT NULL,
  PRIMARY KEY (place)
);

CREATE TABLE removals (
  number bigint NOT NULL,
  bag bigint NOT NULL,
  sha256 text COLLATE "C" NOT NULL,
  bytes bigint NOT NULL,
  removed text COLLATE "C" NOT NULL,
  person text COLLATE "C" NOT NULL,
  why text COLLATE "C" NOT NULL,
  body bytea NOT NULL,
  PRIMARY KEY (number)
);

CREATE TABLE keeps (
  number bigint NOT NULL,
  job text COLLATE "C" NOT NULL,
  plan text COLLATE "C" NOT NULL,
  until text COLLATE "C" NOT NULL,
  years bigint NOT NULL,
  person text COLLATE "C" NOT NULL,
  why text COLLATE "C" NOT NULL,
  since text COLLATE "C" NOT NULL,
  PRIMARY KEY (number)
);

CREATE TABLE states (
  job text COLLATE "C" NOT NULL,
  head text COLLATE "C" NOT NULL,
  id text COLLATE "C" NOT NULL,
  entries bigint NOT NULL,
  newest smallint NOT NULL,
  newests bigint NOT NULL,
  removed smallint NOT NULL,
  plan text COLLATE "C" NOT NULL,
  plan_hash text COLLATE "C" NOT NULL,
  title text COLLATE "C" NOT NULL,
  site text COLLATE "C" NOT NULL,
  work text COLLATE "C" NOT NULL,
  permit text COLLATE "C" NOT NULL,
  client text COLLATE "C" NOT NULL,
  firm text COLLATE "C" NOT NULL,
  client_order text COLLATE "C" NOT NULL,
  document text COLLATE "C" NOT NULL,
  opened text COLLATE "C" NOT NULL,
  last text COLLATE "C" NOT NULL,
  verdict text COLLATE "C" NOT NULL,
  standing text COLLATE "C" NOT NULL,
  signed text COLLATE "C" NOT NULL,
  program text COLLATE "C" NOT NULL,
  PRIMARY KEY (job, head)
);

CREATE TABLE plants (
  job text COLLATE "C" NOT NULL,
  head text COLLATE "C" NOT NULL,
  plant text COLLATE "C" NOT NULL,
  sort text COLLATE "C" NOT NULL,
  name text COLLATE "C" NOT NULL,
  maker text COLLATE "C" NOT NULL,
  plain text COLLATE "C" NOT NULL,
  serial text COLLATE "C" NOT NULL,
  year text COLLATE "C" NOT NULL,
  asset text COLLATE "C" NOT NULL,
  PRIMARY KEY (job, head, plant)
);

CREATE TABLE checks (
  job text COLLATE "C" NOT NULL,
  head text COLLATE "C" NOT NULL,
  check_id text COLLATE "C" NOT NULL,
  number bigint NOT NULL,
  kind text COLLATE "C" NOT NULL,
  title text COLLATE "C" NOT NULL,
  place text COLLATE "C" NOT NULL,
  verdict text COLLATE "C" NOT NULL,
  stands text COLLATE "C" NOT NULL,
  attempts bigint NOT NULL,
  judged text COLLATE "C" NOT NULL,
  PRIMARY KEY (job, head, check_id)
);

CREATE TABLE readings (
  job text COLLATE "C" NOT NULL,
  head text COLLATE "C" NOT NULL,
  check_id text COLLATE "C" NOT NULL,
  attempt bigint NOT NULL,
  field text COLLATE "C" NOT NULL,
  label text COLLATE "C" NOT NULL,
  quantity text COLLATE "C" NOT NULL,
  unit text COLLATE "C" NOT NULL,
  value double precision,
  bound text COLLATE "C" NOT NULL,
  typed text COLLATE "C" NOT NULL,
  meter_error double precision,
  serial text COLLATE "C" NOT NULL,
  taken text COLLATE "C" NOT NULL,
  person text COLLATE "C" NOT NULL,
  verdict text COLLATE "C" NOT NULL,
  newest smallint NOT NULL,
  entry bigint NOT NULL,
  PRIMARY KEY (job, head, check_id, attempt, field, taken)
) PARTITION BY RANGE (taken);

CREATE TABLE readings_other PARTITION OF readings DEFAULT;

CREATE TABLE readings_2000 PARTITION OF readings FOR VALUES FROM ('2000') TO ('2005');

CREATE TABLE readings_2005 PARTITION OF readings FOR VALUES FROM ('2005') TO ('2010');

CREATE TABLE readings_2010 PARTITION OF readings FOR VALUES FROM ('2010') TO ('2015');

CREATE TABLE readings_2015 PARTITION OF readings FOR VALUES FROM ('2015') TO ('2020');

CREATE TABLE readings_2020 PARTITION OF readings FOR VALUES FROM ('2020') TO ('2025');

CREATE TABLE readings_2025 PARTITION OF readings FOR VALUES FROM ('2025') TO ('2030');

CREATE TABLE readings_2030 PARTITION OF readings FOR VALUES FROM ('2030') TO ('2035');

CREATE TABLE readings_2035 PARTITION OF readings FOR VALUES FROM ('2035') TO ('2040');

CREATE TABLE readings_2040 PARTITION OF readings FOR VALUES FROM ('2040') TO ('2045');

CREATE TABLE readings_2045 PARTITION OF readings FOR VALUES FROM ('2045') TO ('2050');

CREATE TABLE readings_2050 PARTITION OF readings FOR VALUES FROM ('2050') TO ('2055');

CREATE TABLE readings_2055 PARTITION OF readings FOR VALUES FROM ('2055') TO ('2060');

CREATE TABLE results (
  job text COLLATE "C" NOT NULL,
  head text COLLATE "C" NOT NULL,
  check_id text COLLATE "C" NOT NULL,
  attempt bigint NOT NULL,
  value_key text COLLATE "C" NOT NULL,
  name text COLLATE "C" NOT NULL,
  unit text COLLATE "C" NOT NULL,
  value double precision,
  bound text COLLATE "C" NOT NULL,
  uncertainty double precision,
  standard double precision,
  low double precision,
  high double precision,
  source text COLLATE "C" NOT NULL,
  rule text COLLATE "C" NOT NULL,
  verdict text COLLATE "C" NOT NULL,
  judged text COLLATE "C" NOT NULL,
  newest smallint NOT NULL,
  lapsed smallint NOT NULL,
  serial text COLLATE "C" NOT NULL,
  entry bigint NOT NULL,
  PRIMARY KEY (job, head, check_id, attempt, value_key)
);

CREATE TABLE instruments (
  job text COLLATE "C" NOT NULL,
  head text COLLATE "C" NOT NULL,
  serial text COLLATE "C" NOT NULL,
  plain text COLLATE "C" NOT NULL,
  meter text COLLATE "C" NOT NULL,
  name text COLLATE "C" NOT NULL,
  certificate text COLLATE "C" NOT NULL,
  due text COLLATE "C" NOT NULL,
  uses bigint NOT NULL,
  PRIMARY KEY (job, head, serial, meter)
);

CREATE TABLE people (
  job text COLLATE "C" NOT NULL,
  head text COLLATE "C" NOT NULL,
  person text COLLATE "C" NOT NULL,
  name text COLLATE "C" NOT NULL,
  plain text COLLATE "C" NOT NULL,
  role text COLLATE "C" NOT NULL,
  firm text COLLATE "C" NOT NULL,
  entries bigint NOT NULL,
  PRIMARY KEY (job, head, person)
);

CREATE TABLE signatures (
  job text COLLATE "C" NOT NULL,
  head text COLLATE "C" NOT NULL,
  entry bigint NOT NULL,
  person text COLLATE "C" NOT NULL,
  name text COLLATE "C" NOT NULL,
  plain text COLLATE "C" NOT NULL,
  role text COLLATE "C" NOT NULL,
  signed text COLLATE "C" NOT NULL,
  covers bigint NOT NULL,
  key text COLLATE "C" NOT NULL,
  doubt text COLLATE "C" NOT NULL,
  PRIMARY KEY (job, head, entry)
);

CREATE TABLE defects (
  job text COLLATE "C" NOT NULL,
  head text COLLATE "C" NOT NULL,
  number bigint NOT NULL,
  what text COLLATE "C" NOT NULL,
  place text COLLATE "C" NOT NULL,
  owner text COLLATE "C" NOT NULL,
  due text COLLATE "C" NOT NULL,
  holds text COLLATE "C" NOT NULL,
  raised text COLLATE "C" NOT NULL,
  entry bigint NOT NULL,
  closed text COLLATE "C" NOT NULL,
  done text COLLATE "C" NOT NULL,
  PRIMARY KEY (job, head, number)
);

CREATE TABLE concessions (
  job text COLLATE "C" NOT NULL,
  head text COLLATE "C" NOT NULL,
  entry bigint NOT NULL,
  check_id text COLLATE "C" NOT NULL,
  attempt bigint NOT NULL,
  engineer text COLLATE "C" NOT NULL,
  given text COLLATE "C" NOT NULL,
  verdict text COLLATE "C" NOT NULL,
  reason text COLLATE "C" NOT NULL,
  stands smallint NOT NULL,
  void text COLLATE "C" NOT NULL,
  PRIMARY KEY (job, head, entry)
);

CREATE TABLE texts (
  job text COLLATE "C" NOT NULL,
  head text COLLATE "C" NOT NULL,
  number bigint NOT NULL,
  source text COLLATE "C" NOT NULL,
  entry bigint NOT NULL,
  said text COLLATE "C" NOT NULL,
  plain text COLLATE "C" NOT NULL,
  PRIMARY KEY (job, head, number)
);

CREATE TABLE searched (
  job text COLLATE "C" NOT NULL,
  head text COLLATE "C" NOT NULL,
  site text COLLATE "C" NOT NULL,
  firm text COLLATE "C" NOT NULL,
  PRIMARY KEY (job, head)
);

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

CREATE FUNCTION only_added() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$
BEGIN
  RAISE EXCEPTION '% are only added: no %', TG_TABLE_NAME, TG_OP USING ERRCODE = 'restrict_violation';
END$$;

CREATE FUNCTION number_follows() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$
DECLARE n bigint;
BEGIN
  EXECUTE format('SELECT coalesce(max(number), 0) + 1 FROM %I', TG_TABLE_NAME) INTO n;
  IF NEW.number IS DISTINCT FROM n THEN
    RAISE EXCEPTION '% are only added: number does not follow', TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
  END IF;
  RETURN NEW;
END$$;

CREATE FUNCTION only_reduced() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$
BEGIN
  IF OLD.place = 'bags' AND EXISTS (
    SELECT 1 FROM bags b JOIN removals r ON r.bag = b.number WHERE b.sha256 = OLD.sha256
    UNION ALL SELECT 1 FROM removals r WHERE r.sha256 = OLD.sha256
  ) AND NOT EXISTS (
    SELECT 1 FROM removals r WHERE r.sha256 = OLD.sha256 AND r.number = (SELECT max(x.number) FROM removals x WHERE x.bag = r.bag)
  ) THEN
    RETURN OLD;
  END IF;
  RAISE EXCEPTION 'files are only added: no DELETE of one that is not reduced' USING ERRCODE = 'restrict_violation';
END$$;

CREATE TRIGGER archive_only_added BEFORE UPDATE OR DELETE OR TRUNCATE ON archive FOR EACH STATEMENT EXECUTE FUNCTION only_added();

CREATE TRIGGER bags_only_added BEFORE UPDATE OR DELETE OR TRUNCATE ON bags FOR EACH STATEMENT EXECUTE FUNCTION only_added();

CREATE TRIGGER quarantine_only_added BEFORE UPDATE OR DELETE OR TRUNCATE ON quarantine FOR EACH STATEMENT EXECUTE FUNCTION only_added();

CREATE TRIGGER policies_only_added BEFORE UPDATE OR DELETE OR TRUNCATE ON policies FOR EACH STATEMENT EXECUTE FUNCTION only_added();

CREATE TRIGGER log_keys_only_added BEFORE UPDATE OR DELETE OR TRUNCATE ON log_keys FOR EACH STATEMENT EXECUTE FUNCTION only_added();

CREATE TRIGGER leaves_only_added BEFORE UPDATE OR DELETE OR TRUNCATE ON leaves FOR EACH STATEMENT EXECUTE FUNCTION only_added();

CREATE TRIGGER log_hashes_only_added BEFORE UPDATE OR DELETE OR TRUNCATE ON log_hashes FOR EACH STATEMENT EXECUTE FUNCTION only_added();

CREATE TRIGGER removals_only_added BEFORE UPDATE OR DELETE OR TRUNCATE ON removals FOR EACH STATEMENT EXECUTE FUNCTION only_added();

CREATE TRIGGER keeps_only_added BEFORE UPDATE OR DELETE OR TRUNCATE ON keeps FOR EACH STATEMENT EXECUTE FUNCTION only_added();

CREATE TRIGGER files_only_added BEFORE UPDATE OR TRUNCATE ON files FOR EACH STATEMENT EXECUTE FUNCTION only_added();

CREATE TRIGGER files_only_reduced BEFORE DELETE ON files FOR EACH ROW EXECUTE FUNCTION only_reduced();

CREATE TRIGGER bags_follow BEFORE INSERT ON bags FOR EACH ROW EXECUTE FUNCTION number_follows();

CREATE TRIGGER leaves_follow BEFORE INSERT ON leaves FOR EACH ROW EXECUTE FUNCTION number_follows();

INSERT INTO archive (version) VALUES (1);

DO $$ BEGIN
  IF NOT EXISTS (SELECT 1 FROM pg_roles WHERE rolname = 'handback_add') THEN
    CREATE ROLE handback_add NOLOGIN;
  END IF;
  EXECUTE format('GRANT USAGE ON SCHEMA %I TO handback_add', current_schema());
END $$;

DO $$ BEGIN
  IF NOT EXISTS (SELECT 1 FROM pg_roles WHERE rolname = 'handback_read') THEN
    CREATE ROLE handback_read NOLOGIN;
  END IF;
  EXECUTE format('GRANT USAGE ON SCHEMA %I TO handback_read', current_schema());
END $$;

GRANT SELECT ON archive, files, bags, quarantine, policies, log_keys, leaves, log_hashes, removals, keeps, states, plants, checks, readings, results, instruments, people, signatures, defects, concessions, texts, searched TO handback_read;

GRANT SELECT, UPDATE ON archive TO handback_add;

GRANT SELECT, INSERT, DELETE ON files TO handback_add;

GRANT SELECT, INSERT ON bags, quarantine, policies, log_keys, leaves, log_hashes, removals, keeps TO handback_add;

GRANT SELECT, INSERT, UPDATE, DELETE ON states, plants, checks, readings, results, instruments, people, signatures, defects, concessions, texts, searched TO handback_add;

COMMIT;
