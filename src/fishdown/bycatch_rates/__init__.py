"""How much bycatch a pull brings, how much of it dies, and what that means for a limit."""
