DROP FUNCTION ledger_cosigned(integer, integer, bigint, text);
DROP TABLE ledger_anchor;
