DROP TABLE idempotency_answer;
