"""Pictures for paper: sheets, templates and patterns at true size."""
