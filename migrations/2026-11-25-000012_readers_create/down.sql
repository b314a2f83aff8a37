DROP TABLE readers_reader;
