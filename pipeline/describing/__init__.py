"""What the accepted rows say, as numbers: conditions of each fill, design columns, the state of each unit."""
