package checks
func (n *notes) order(p *Plan){}
func (n *notes) identity(p *Plan){}
func (n *notes) placeholders(data []byte, p *Plan){}
func (n *notes) fitting(p *Plan){}
