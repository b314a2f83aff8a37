REVOKE UPDATE (body) ON idempotency_answer FROM assize_service;
REVOKE UPDATE (bytes, erased) ON imports_upload FROM assize_service;
ALTER TABLE imports_upload DROP COLUMN erased;
DROP TABLE erasures_erasure;
