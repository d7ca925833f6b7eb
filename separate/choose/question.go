package choose

import "fmt"

// A QuestionError is a question that cannot be meant: Message says what is
// wrong with it and the mend.
type QuestionError struct{ Message string }

func (e *QuestionError) Error() string { return "choose: " + e.Message }

func wrong(format string, args ...any) error {
	return &QuestionError{fmt.Sprintf(format, args...)}
}
