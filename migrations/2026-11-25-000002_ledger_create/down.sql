DROP TABLE ledger_key;
DROP TABLE ledger_disclosure;
DROP TABLE ledger_pending;
DROP TABLE ledger_version;
DROP TABLE ledger_act;
DROP FUNCTION ledger_refuse();
