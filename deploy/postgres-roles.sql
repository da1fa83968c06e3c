-- Who may do what in a depot's database. Run as a superuser in the depot's database, once before
-- the tables are made and again after each migration; a second run changes nothing.
--
--   createdb --encoding=UTF8 depot
--   psql -v ON_ERROR_STOP=1 -d depot -f postgres-roles.sql
--   ferruled migrate --postgres "dbname=depot user=ferrule_owner options='-c search_path=ferrule'"
--   psql -v ON_ERROR_STOP=1 -d depot -f postgres-roles.sql
--
--   ferrule_owner   owns the tables: migrates, rebuilds; nobody works as it from day to day
--   ferrule_writer  serves: adds to the ledger, and can neither change nor delete what is in it
--   ferrule_reader  looks and verifies
--
-- Set passwords with \password, or let pg_hba.conf ask for certificates. Rewriting the ledger takes
-- the owner or a superuser; that it happened shows in the anchors kept elsewhere (ferruled head).
DO $$
DECLARE
  role text;
BEGIN
  FOREACH role IN ARRAY ARRAY['ferrule_owner', 'ferrule_writer', 'ferrule_reader'] LOOP
    IF NOT EXISTS (SELECT FROM pg_catalog.pg_roles WHERE rolname = role) THEN
      EXECUTE format('CREATE ROLE %I LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION', role);
    END IF;
  END LOOP;
END $$;

CREATE SCHEMA IF NOT EXISTS ferrule AUTHORIZATION ferrule_owner;
REVOKE ALL ON SCHEMA ferrule FROM PUBLIC;
REVOKE CREATE ON SCHEMA public FROM PUBLIC;
GRANT USAGE ON SCHEMA ferrule TO ferrule_writer, ferrule_reader;

REVOKE ALL ON ALL TABLES IN SCHEMA ferrule FROM PUBLIC, ferrule_writer, ferrule_reader;
GRANT SELECT ON ALL TABLES IN SCHEMA ferrule TO ferrule_writer, ferrule_reader;
DO $$
DECLARE
  name text;
BEGIN
  -- The ledger: added to, never changed. Its head row moves on and is what writers lock.
  FOREACH name IN ARRAY ARRAY['entries', 'refusals', 'fact_subjects'] LOOP
    IF to_regclass('ferrule.' || name) IS NOT NULL THEN
      EXECUTE format('GRANT INSERT ON ferrule.%I TO ferrule_writer', name);
    END IF;
  END LOOP;
  IF to_regclass('ferrule.ledger_head') IS NOT NULL THEN
    GRANT UPDATE ON ferrule.ledger_head TO ferrule_writer;
  END IF;
  -- What follows from the ledger, and messages kept beside it, whose particulars can be erased.
  FOREACH name IN ARRAY ARRAY['states', 'intervals', 'messages', 'intake_orders', 'imports',
                              'intake_secret'] LOOP
    IF to_regclass('ferrule.' || name) IS NOT NULL THEN
      EXECUTE format('GRANT INSERT, UPDATE, DELETE ON ferrule.%I TO ferrule_writer', name);
    END IF;
  END LOOP;
  -- The message bodies are patients' particulars: not for those who only look.
  IF to_regclass('ferrule.messages') IS NOT NULL THEN
    REVOKE SELECT ON ferrule.messages, ferrule.intake_secret FROM ferrule_reader;
  END IF;
END $$;
