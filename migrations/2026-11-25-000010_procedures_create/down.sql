DROP TABLE procedures_procedure;
