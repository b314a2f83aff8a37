DROP TABLE limits_limit;
