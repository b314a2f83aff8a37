DROP TABLE preparations_preparation;
