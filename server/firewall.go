package main

import (
	"fmt"
	"net"
	"strings"
)

// checkFirewall says how to open the ports where a firewall may be on. What it
// really lets through can be seen from another machine only. goos is
// runtime.GOOS, exists looks for a file.
func checkFirewall(goos string, exists func(path string) bool, ports []port) []finding {
	var numbers []string
	for _, p := range ports {
		if p.flag == "listen" {
			continue // this machine only
		}
		if _, number, err := net.SplitHostPort(p.address); err == nil {
			numbers = append(numbers, number)
		}
	}
	all := strings.Join(numbers, ",")
	const mdnsPort = "5353"
	switch {
	case goos == "linux" && exists("/etc/ufw/ufw.conf"):
		return []finding{found(look, fmt.Sprintf("sudo ufw allow %s/tcp && sudo ufw allow %s/udp", all, mdnsPort),
			"this machine has the firewall ufw: if it is on, phones are kept out")}
	case goos == "linux" && exists("/etc/firewalld"):
		var add []string
		for _, number := range numbers {
			add = append(add, "--add-port="+number+"/tcp")
		}
		return []finding{found(look, "sudo firewall-cmd "+strings.Join(add, " ")+" --add-service=mdns",
			"this machine has the firewall firewalld: it may keep phones out")}
	case goos == "linux":
		return []finding{found(fine, "", "no usual firewall is installed")}
	case goos == "windows":
		return []finding{found(look, fmt.Sprintf("when Windows asks, allow private networks, and set this Wi-Fi to private; or, as administrator: "+
			`netsh advfirewall firewall add rule name=packwright dir=in action=allow protocol=TCP localport=%s`, all),
			"the firewall of Windows keeps phones out until it is told")}
	case goos == "darwin":
		return []finding{found(look, "System Settings › Network › Firewall: allow incoming connections for packwright", "if the firewall is on, it asks or keeps phones out")}
	}
	return []finding{found(look, fmt.Sprintf("let TCP %s and UDP %s in", all, mdnsPort), "the firewall of this system is not known here")}
}
