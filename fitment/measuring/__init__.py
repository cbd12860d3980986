"""What is measured on a vehicle and how answers become a profile: questions, the interview, the YAML writer."""
