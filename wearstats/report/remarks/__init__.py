"""The words of what results remark: a sentence a code."""
